package reports

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Places on the frame axis, in units of its view box.
const (
	axisWide  = 1060
	axisLeft  = 168 // where frame 0 is
	axisRight = 1006
	rowHigh   = 34
	rowLow    = 20 // when there are many rows
	manyRows  = 24
	maxRows   = 60
	pinLanes  = 3
	pinWide   = 30
	oneStroke = 1.0 // the narrowest stretch that is drawn
)

// axis is the families of a spec on one frame axis: a row for each repeat, and
// where it parted from the others.
type axis struct {
	Of         string // as specView.Of
	W, H       int
	Top, Foot  int // where the rows begin and end
	TickY      int // of the frame numbers
	Frames     string
	Ticks      []tick
	Pins       []pin
	Rows       []row
	Left       int // repeats without a row
	Unseen     bool
	Lag        bool
	NoFamily   bool
	Checks     bool
	Parted     bool
	Summary    string // the same in one sentence
	LeftX, End int
}

type tick struct {
	X     float64
	Label string
}

// A pin is a checkpoint above the rows.
type pin struct {
	X, Y  float64
	Line  float64 // where its line begins
	Label string
	Title string
}

type row struct {
	Y        float64
	Name     name
	Class    string // of the family
	Label    string // of the family
	Segments []segment
	Join     string // path of the branch, empty for the first family
	JoinX    float64
	At       string // frame of the branch
	AtLeft   bool   // its text stands left of the branch
	UnseenD  string
	LagD     string
	PassD    string
	FailD    string
	NoneD    string
	Title    string
}

// A segment of a row belongs to the family that the repeat was in there.
type segment struct {
	X1, X2 float64
	Class  string
	Own    bool // after it parted: drawn heavier
}

// frameAxis lays the families out. It is nil when no repeat has a frame.
func frameAxis(s Spec) *axis {
	frames := s.Lockstep.Frames
	for _, r := range s.Repeats {
		frames = max(frames, r.Frames)
	}
	if frames <= 0 || len(s.Repeats) == 0 {
		return nil
	}
	x := func(f int64) float64 {
		f = min(max(f, 0), frames)
		return round(axisLeft + float64(f)/float64(frames)*(axisRight-axisLeft))
	}
	order := rowOrder(s)
	a := &axis{W: axisWide, Frames: count(frames), LeftX: axisLeft, End: axisRight}
	order, a.Left = fewer(s, order, maxRows)
	high := rowHigh
	if len(order) > manyRows {
		high = rowLow
	}
	lanes := a.pins(s, x)
	a.Top = 14 + lanes*16
	first := map[int]float64{} // y of the first row of each family
	for i, n := range order {
		r := s.Repeats[n]
		y := float64(a.Top + high/2 + i*high)
		line := row{Y: y, Name: nameBesideAxis(r.Name), Class: familyClass(r.Family), Label: "–", Title: rowTitle(r)}
		if r.Family >= 0 {
			line.Label = familyName(r.Family)
		} else {
			a.NoFamily = true
		}
		end := r.Frames
		if end <= 0 {
			end = frames
		}
		line.Segments = segments(s.Lockstep.Families, r.Family, end, x)
		if _, ok := first[r.Family]; !ok {
			first[r.Family] = y
			if f := family(s, r.Family); f != nil && f.Parent >= 0 {
				a.Parted = true
				line.JoinX, line.At = x(f.From), count(f.From)
				line.AtLeft = line.JoinX > axisRight-60
				if py, ok := first[f.Parent]; ok {
					line.Join = fmt.Sprintf("M%g %gV%g", line.JoinX, py, y)
				}
			}
		}
		line.UnseenD = stretches(r.UnseenFrames, x, y+5, 5)
		line.LagD = teeth(r.LagAt, x, y-4)
		a.Unseen = a.Unseen || line.UnseenD != ""
		a.Lag = a.Lag || line.LagD != ""
		line.marks(s, r.Name, x)
		a.Checks = a.Checks || line.PassD+line.FailD+line.NoneD != ""
		a.Rows = append(a.Rows, line)
	}
	a.Foot = a.Top + len(order)*high
	a.TickY = a.Foot + 20
	a.H = a.Foot + 30
	step := niceStep(float64(frames) / 8)
	for f := int64(0); f <= frames; f += step {
		a.Ticks = append(a.Ticks, tick{X: x(f), Label: count(f)})
	}
	a.Summary = fmt.Sprintf("%s in %s over %s.", plural(len(s.Repeats), "repeat", "repeats"),
		plural(len(s.Lockstep.Families), "family", "families"), plural(frames, "frame", "frames"))
	return a
}

func round(f float64) float64 { return math.Round(f*10) / 10 }

func family(s Spec, i int) *Family {
	if i < 0 || i >= len(s.Lockstep.Families) {
		return nil
	}
	return &s.Lockstep.Families[i]
}

func familyClass(i int) string {
	if i < 0 {
		return "f0"
	}
	return fmt.Sprintf("f%d", i%4+1)
}

// rowOrder puts the repeats of a family together, families in their order, and
// the repeats that could not be compared last.
func rowOrder(s Spec) []int {
	order := make([]int, len(s.Repeats))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		fa, fb := s.Repeats[a].Family, s.Repeats[b].Family
		switch {
		case fa == fb:
			return 0
		case fa < 0:
			return 1
		case fb < 0:
			return -1
		}
		return fa - fb
	})
	return order
}

// fewer keeps at most n rows and their order: one of each family first, then a
// second of each, and so on, so that no small family is lost behind a large
// one. It says how many it left out.
func fewer(s Spec, order []int, n int) ([]int, int) {
	if len(order) <= n {
		return order, 0
	}
	seen := map[int]int{}
	rank := make([]int, len(order)) // how many of the family came before
	for i, r := range order {
		f := s.Repeats[r].Family
		rank[i] = seen[f]
		seen[f]++
	}
	keep := make([]int, len(order))
	for i := range keep {
		keep[i] = i
	}
	slices.SortStableFunc(keep, func(a, b int) int { return rank[a] - rank[b] })
	keep = keep[:n]
	slices.Sort(keep)
	out := make([]int, n)
	for i, k := range keep {
		out[i] = order[k]
	}
	return out, len(order) - n
}

// segments are the families that a repeat was in, from frame 0 to its end.
func segments(all []Family, own int, end int64, x func(int64) float64) []segment {
	if own < 0 || own >= len(all) {
		return []segment{{X1: x(0), X2: x(end), Class: familyClass(-1)}}
	}
	var out []segment
	i, to := own, end
	for range all { // no chain of parents is longer than that
		if i < 0 || i >= len(all) {
			break
		}
		from := all[i].From
		if all[i].Parent < 0 {
			from = 0
		}
		if from = min(from, to); from < to || len(all) == 1 {
			out = append(out, segment{X1: x(from), X2: x(to), Class: familyClass(i), Own: i == own})
		}
		to, i = from, all[i].Parent
	}
	slices.Reverse(out)
	return out
}

// stretches draws frames as bars under a row. Frames whose bars would touch are
// one bar, so a long run is bounded by the width of the axis.
func stretches(frames []int64, x func(int64) float64, y, h float64) string {
	var b strings.Builder
	for _, s := range merged(frames, x) {
		fmt.Fprintf(&b, "M%g %gh%gv%gh%gz", s[0], y, round(s[1]-s[0]), h, -round(s[1]-s[0]))
	}
	return b.String()
}

// teeth draws frames as small triangles over a row, one for frames that would
// touch.
func teeth(frames []int64, x func(int64) float64, y float64) string {
	var b strings.Builder
	for _, s := range merged(frames, x) {
		fmt.Fprintf(&b, "M%g %gh%gl-2.5 -5h%gz", round(s[0]-2.5), y, round(s[1]-s[0]+5), -round(s[1]-s[0]))
	}
	return b.String()
}

// merged turns frames into stretches of the axis, each as wide as its frames
// and at least oneStroke, joined when less than oneStroke apart.
func merged(frames []int64, x func(int64) float64) [][2]float64 {
	sorted := slices.Clone(frames)
	slices.Sort(sorted)
	var out [][2]float64
	for _, f := range sorted {
		from := x(f)
		to := max(x(f+1), round(from+oneStroke))
		if n := len(out); n > 0 && from <= out[n-1][1]+oneStroke {
			out[n-1][1] = max(out[n-1][1], to)
			continue
		}
		out = append(out, [2]float64{from, to})
	}
	return out
}

// marks draws what the checkpoints found in a repeat.
func (r *row) marks(s Spec, repeat string, x func(int64) float64) {
	var pass, fail, none strings.Builder
	for _, c := range s.Checkpoints {
		for _, res := range c.Results {
			if res.Repeat != repeat || res.Frame < 0 {
				continue
			}
			at := x(res.Frame)
			switch res.Verdict {
			case "pass":
				fmt.Fprintf(&pass, "M%g %ga4 4 0 1 0 8 0a4 4 0 1 0 -8 0", round(at-4), r.Y)
			case "fail":
				fmt.Fprintf(&fail, "M%g %gl9 9m0 -9l-9 9", round(at-4.5), round(r.Y-4.5))
			default:
				fmt.Fprintf(&none, "M%g %gh8v8h-8z", round(at-4), round(r.Y-4))
			}
		}
	}
	r.PassD, r.FailD, r.NoneD = pass.String(), fail.String(), none.String()
}

// pins puts the checkpoints above the rows and says how many lanes that took.
func (a *axis) pins(s Spec, x func(int64) float64) int {
	type at struct {
		n int
		f int64
	}
	var all []at
	for i, c := range s.Checkpoints {
		for _, r := range c.Results {
			if r.Frame >= 0 {
				all = append(all, at{i, r.Frame})
				break
			}
		}
	}
	slices.SortStableFunc(all, func(a, b at) int { return int(max(min(a.f-b.f, 1), -1)) })
	free := [pinLanes]float64{}
	used := 0
	for _, p := range all {
		px := x(p.f)
		lane := slices.IndexFunc(free[:], func(f float64) bool { return f <= px-pinWide/2 })
		title := fmt.Sprintf("C%d %s, frame %s", p.n+1, named(s.Checkpoints[p.n].Name, longName).Short, count(p.f))
		if lane < 0 { // no room for a name: only the line
			a.Pins = append(a.Pins, pin{X: px, Line: float64(pinLanes*16 + 2), Title: title})
			continue
		}
		free[lane] = px + pinWide/2
		used = max(used, lane+1)
		y := float64(12 + lane*16)
		a.Pins = append(a.Pins, pin{X: px, Y: y, Line: y + 3, Label: fmt.Sprintf("C%d", p.n+1), Title: title})
	}
	return used
}

func rowTitle(r Repeat) string {
	where := "not compared"
	if r.Family >= 0 {
		where = "family " + familyName(r.Family)
	}
	return fmt.Sprintf("%s: %s, %s, %d unseen, %d lag", named(r.Name, longName).Short, where, plural(r.Frames, "frame", "frames"), r.Unseen, r.LagFrames)
}

// niceStep is the smallest of 1, 2 and 5 times a power of ten not below f.
func niceStep(f float64) int64 {
	for p := int64(1); ; p *= 10 {
		for _, m := range []int64{1, 2, 5} {
			if float64(p*m) >= f {
				return p * m
			}
		}
		if p > math.MaxInt64/100 {
			return p
		}
	}
}
