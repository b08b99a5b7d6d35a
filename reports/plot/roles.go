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
	roles
)

var classes = [roles]string{
	"p-num", "p-name", "p-axis", "p-grid", "p-zero", "p-bar", "p-line-a", "p-line-b",
	"p-band-a", "p-band-b", "p-edge-a", "p-edge-b", "p-cut-a", "p-cut-b", "p-dot-a", "p-dot-b",
}

// Classes are the classes that a style sheet must have a rule for.
func Classes() []string { return append([]string{"plot"}, classes[:]...) }

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
