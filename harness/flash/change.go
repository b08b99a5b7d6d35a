package flash

// The thresholds of a general flash, in units of luminance: WCAG 2.2, "general
// flash and red flash thresholds".
const (
	step   = unit / 10     // a change is at least this
	darker = unit / 10 * 8 // and its darker state is below this
)

// change follows the luminance of a cell from peak to valley and back.
type change struct {
	way    int8 // +1: the last change was up, -1: down, 0: none yet
	begun  bool
	lo, hi int32 // the lowest and the highest since the last change
}

// next says whether a change of the cell reaches its threshold with this
// luminance.
func (c *change) next(l int32) bool {
	if !c.begun {
		c.begun, c.lo, c.hi = true, l, l
		return false
	}
	if c.way <= 0 && l-c.lo >= step && c.lo < darker {
		*c = change{+1, true, l, l}
		return true
	}
	if c.way >= 0 && c.hi-l >= step && l < darker {
		*c = change{-1, true, l, l}
		return true
	}
	c.lo, c.hi = min(c.lo, l), max(c.hi, l)
	return false
}
