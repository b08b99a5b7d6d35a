package reports

import (
	_ "embed"
	"fmt"
	"strings"
)

// flashText has the parts "flash", given a specView, and "flash-caution", given a
// flashCaution.
//
//go:embed flash.gohtml
var flashText string

// maxFlashes is how many flashing stretches are listed per spec.
const maxFlashes = 100

// flashView is the flashing of a spec as the page shows it.
type flashView struct {
	ID    string
	Of    string // as specView.Of
	Rows  []flashRow
	More  string // stretches that are not listed, in words; empty for none
	Calm  string // said when there is no stretch; empty when there is
	Blind string // frames without a picture, in words; empty for none
	// Left is what was not looked at, and why; it stands among the spec's warnings.
	Left []string
}

type flashRow struct {
	Repeat  name
	Kind    string
	Frames  string
	Seconds string
	Flashes int
	Area    string
	Place   string
	Unseen  string
}

// flashCaution is what stands once at the top of the page. Links go to the specs
// that flash.
type flashCaution struct{ Specs []flashLink }

type flashLink struct {
	ID    string
	Name  name
	Count string
}

func buildFlash(spec int, f *Flash) *flashView {
	if f == nil {
		return nil
	}
	v := &flashView{ID: fmt.Sprintf("s%d-flash", spec)}
	var looked, unseen, gap int64
	stretches, runs := 0, 0
	for _, r := range f.Runs {
		if r.Why != "" {
			v.Left = append(v.Left, fmt.Sprintf("%s was not looked at for flashing: %s", r.Repeat, r.Why))
			continue
		}
		runs++
		looked, unseen, gap = looked+r.Frames, unseen+r.Unseen, max(gap, r.Gap)
		for _, s := range r.Stretches {
			if stretches++; stretches <= maxFlashes {
				v.Rows = append(v.Rows, flashingRow(r.Repeat, s))
			}
		}
	}
	if stretches > maxFlashes {
		v.More = count(stretches - maxFlashes)
	}
	if stretches == 0 && runs > 0 {
		v.Calm = fmt.Sprintf("No stretch flashes more than three times in a second over more than a quarter of any third by third of the picture (%s of %s looked at).",
			plural(looked, "frame", "frames"), plural(runs, "repeat", "repeats"))
	}
	if unseen > 0 {
		v.Blind = fmt.Sprintf("%s no picture, at most %s in a row; a flash there is not found.",
			plural(unseen, "frame has", "frames have"), count(gap))
	}
	return v
}

func flashingRow(repeat string, s FlashStretch) flashRow {
	r := flashRow{
		Repeat: named(repeat, longName), Kind: named(s.Kind, shortName).Short, Flashes: s.Flashes,
		Frames:  count(s.From) + " to " + count(s.To),
		Seconds: decimal(s.FromSeconds, 2) + " to " + decimal(s.ToSeconds, 2),
		Area:    percent(s.Area, false), Place: place(s.Place),
	}
	if s.Unseen > 0 {
		r.Unseen = count(s.Unseen)
	}
	return r
}

// buildCaution is nil when nothing flashes.
func buildCaution(specs []*specView) *flashCaution {
	var c flashCaution
	for _, v := range specs {
		n := 0
		if v.S.Flash != nil {
			for _, r := range v.S.Flash.Runs {
				n += len(r.Stretches)
			}
		}
		if n > 0 {
			c.Specs = append(c.Specs, flashLink{v.Flash.ID, v.Name, plural(n, "flashing stretch", "flashing stretches")})
		}
	}
	if len(c.Specs) == 0 {
		return nil
	}
	return &c
}

// flashWords is the caution beside a picture of a flashing stretch.
const flashWords = "Caution: this frame lies in a stretch of the run that flashes. The picture stands still here."

// caution marks the pictures of flashing stretches: beside each stands the
// caution, and its description says it too.
func (v *specView) caution() {
	f := v.S.Flash
	for _, p := range v.Parts {
		if !f.At(p.D.Frame) || p.PA == nil && p.PB == nil {
			continue
		}
		p.Missing = strings.TrimSpace(p.Missing + " " + flashWords)
		describe(p.PA, p.PB, p.Diff)
	}
	for _, c := range v.Checkpoints {
		for _, p := range c.Proofs {
			if p.Seen != nil && f.At(p.R.Frame) {
				p.None = strings.TrimSpace(p.None + " " + flashWords)
				describe(p.Seen)
			}
		}
	}
}

// windowWords is the caution of a window that steps through a flashing stretch.
const windowWords = "Caution: frames of this window lie in a stretch of the run that flashes. The pictures change only when you step, at most six times in a second; step with care."

// cautionWindows marks the windows that hold frames of flashing stretches.
func (v *specView) cautionWindows() {
	for _, p := range v.Parts {
		if p.Window == nil {
			continue
		}
		for _, f := range p.Window.Data.Frames {
			if v.S.Flash.At(f.Frame) {
				p.Window.Caution = windowWords
				break
			}
		}
	}
}

func describe(pictures ...*shown) {
	for _, p := range pictures {
		if p != nil {
			p.Alt += "; of a flashing stretch"
		}
	}
}
