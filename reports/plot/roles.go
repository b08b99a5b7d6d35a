package plot

import "image/color"

// A role is what a line, an area or a text is for. The library knows only
// colours, so each role goes through it as a colour of its own, and rewrite
// turns that into a class.
type role uint8

const (
	roleNum role = iota
	roleName
	roleAxis
	roleGrid
	roleZero
	roleBar
	roleLineA
	roleLineB
	roleBandA
	roleBandB
	roleEdgeA
	roleEdgeB
	roleCutA
	roleCutB
	roleDotA
	roleDotB
	roleTrend // the first of those of trends: line, reach and mark of each style
	roles     = roleTrend + 3*Styles - 1
)

var classes = [roles]string{
	"p-num", "p-name", "p-axis", "p-grid", "p-zero", "p-bar", "p-line-a", "p-line-b",
	"p-band-a", "p-band-b", "p-edge-a", "p-edge-b", "p-cut-a", "p-cut-b", "p-dot-a", "p-dot-b",
	"p-line-1", "p-reach-1", "p-mark-1", "p-line-2", "p-reach-2", "p-mark-2", "p-line-3", "p-reach-3", "p-mark-3",
	"p-line-4", "p-reach-4", "p-mark-4", "p-reach-0", "p-mark-0",
}

// Classes are the classes that a style sheet must have a rule for, where no
// trend is shown.
func Classes() []string { return append([]string{"plot"}, classes[:roleTrend]...) }

// An anchor is where a text is tied to its place.
type anchor uint8

const (
	anchorStart anchor = iota
	anchorMiddle
	anchorEnd
	anchors
)

// colour stands for a role and an anchor. The steps of 8 with 4 over are for
// the library's rounding, which may take one off.
func (r role) colour(a anchor) color.Color {
	return color.RGBA{R: uint8(r)*8 + 4, G: uint8(a)*8 + 4, B: 0xff, A: 0xff}
}

func (r role) line() color.Color { return r.colour(anchorStart) }

// meant is the role and the anchor that a colour stands for.
func meant(rgb uint32) (role, anchor, bool) {
	r, a := role(rgb>>16/8), anchor(rgb>>8&0xff/8)
	return r, a, r < roles && a < anchors && rgb&0xff >= 0xfe
}

func roleOf(c color.Color) (role, anchor, bool) {
	if c == nil {
		return 0, 0, false
	}
	r, g, b, _ := c.RGBA()
	return meant(r>>8<<16 | g>>8<<8 | b>>8)
}
