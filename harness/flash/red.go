package flash

// The thresholds of a red flash; see the package documentation for sources.
const (
	apart    = 0.2       // in (u', v'), more than this
	tooDark  = 20. / 320 // R-G-B of a saturated red is more than this
	noColour = 0.01      // R+G+B of what counts as colourless is below this
)

// The chromaticities (u', v') of the red primary and of the white of sRGB: IEC
// 61966-2-1, through the matrix below.
const (
	primaryU, primaryV = 0.450704096, 0.522887343
	whiteU, whiteV     = 0.197839809, 0.468336313
)

// tint follows the chromaticity of a cell to saturated red and away from it.
type tint struct {
	begun, red bool
	// The chromaticity, among those since the last change, that is nearest to the
	// red primary (red) or farthest from it; d is the square of its distance.
	u, v, d float32
}

// way is the direction of the last change: +1 to red, -1 away from it.
func (t *tint) way() int8 {
	if t.red {
		return 1
	}
	return -1
}

// next says whether a change of the cell reaches its threshold with this light.
func (t *tint) next(c *light) bool {
	u, v := chromaticity(c)
	du, dv := u-primaryU, v-primaryV
	d := du*du + dv*dv
	red := c.r >= 4*(c.g+c.b) && c.r-c.g-c.b > tooDark // R/(R+G+B) >= 0.8
	switch {
	case !t.begun, red != t.red && far(u-t.u, v-t.v):
		changed := t.begun
		*t = tint{true, red, u, v, d}
		return changed
	case t.red && red && d < t.d, !t.red && !red && d > t.d:
		t.u, t.v, t.d = u, v, d
	}
	return false
}

func far(du, dv float32) bool { return du*du+dv*dv > apart*apart }

// chromaticity is u' = 4X/(X+15Y+3Z), v' = 9Y/(X+15Y+3Z) (CIE 15:2004, CIE 1976
// UCS), X, Y, Z of linear sRGB.
func chromaticity(c *light) (u, v float32) {
	if c.r+c.g+c.b < noColour {
		return whiteU, whiteV
	}
	x := 0.4124564*c.r + 0.3575761*c.g + 0.1804375*c.b
	y := 0.2126729*c.r + 0.7151522*c.g + 0.0721750*c.b
	z := 0.0193339*c.r + 0.1191920*c.g + 0.9503041*c.b
	n := 1 / (x + 15*y + 3*z)
	return 4 * x * n, 9 * y * n
}
