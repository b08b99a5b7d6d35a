package reports

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
)

// view is what the page template is given. Texts in it are still untrusted; the
// template escapes them.
type view struct {
	Style    template.CSS
	Title    name
	Made     string
	Version  string
	Tone     tone // of all specs
	Lead     tone // of what was asked: the check, the soak or the specs
	Soak     *soakView
	Baseline *baselineView
	Flashing *flashCaution // nil: nothing flashes
	Tally    string
	Many     bool // more than one spec
	Demo     bool // a spec says what it is meant to show
	Specs    []*specView
	Bench    Bench
	Rate     string
	Left     int  // pictures left out for the size of the page
	Stepped  bool // there are windows to step through
	Script   template.JS
	Policy   template.HTMLAttr // the whole attribute of the Content-Security-Policy
}

type specView struct {
	N        int
	S        Spec
	Name     name
	Of       string // " of NAME" where there are several specs; labels of regions end with it
	Tone     tone
	Sure     sure
	Facts    []fact
	First    *partView
	Parts    []*partView // all that are shown in full
	Other    []Divergence
	Suspects []suspectView
	// SuspectsLeft is how many are not listed, in words; empty for none.
	SuspectsLeft string
	Axis         *axis
	Families     []*familyView // the first of the tree
	Checkpoints  []*checkView
	Timings      []timingView
	Survival     *survivalView
	ReadTiming   *readTimingView
	Flash        *flashView
	Repeats      []repeatView
}

// A timingView is a timing as it is shown.
type timingView struct {
	T    Timing
	Tone tone
	Name name
}

// A fact is a number with its name, in the answer.
type fact struct{ Term, Value, Note string }

type familyView struct {
	Name, Class string
	Members     []string
	More        int // members not named
	Count       string
	From        string
	Parent      string
	Kind, Why   string
	Children    []*familyView // parted from it, in the order in which they did
}

type repeatView struct {
	R      Repeat
	Tone   tone
	Name   name
	Folder name
	Family string
	Class  string
}

func build(s Session) *view {
	v := &view{
		Style: template.CSS(properties() + styleText), Script: template.JS(scriptText), Policy: policy, Title: named(s.Title, 2*longName), Made: moment(s.Made), Version: s.Version,
		Tone: toned(overall(s.Specs)), Many: len(s.Specs) != 1, Bench: s.Bench,
	}
	if v.Title.Short == "" {
		v.Title.Short = "Report"
	}
	if s.Bench.RateHz > 0 {
		v.Rate = decimal(s.Bench.RateHz, 4) + " Hz"
	}
	v.Tally = tally(s.Specs)
	v.Soak, v.Baseline, v.Lead = buildSoak(s.Soak), buildBaseline(s.Baseline), v.Tone
	switch {
	case v.Baseline != nil:
		v.Lead = v.Baseline.Tone
	case v.Soak != nil:
		v.Lead = v.Soak.Tone
	}
	var b budget
	for i, sp := range s.Specs {
		v.Specs = append(v.Specs, buildSpec(i, sp, &b))
		v.Demo = v.Demo || sp.Note != ""
	}
	// What did not pass comes before what did, over all specs.
	for i := range s.Specs {
		v.Specs[i].pictures(s.Specs[i], &b, false)
	}
	for i := range s.Specs {
		v.Specs[i].pictures(s.Specs[i], &b, true)
	}
	for _, sp := range v.Specs {
		sp.caution()
	}
	v.Flashing = buildCaution(v.Specs)
	v.Left = b.left
	parts := make([][]*partView, len(v.Specs))
	for i, sp := range v.Specs {
		parts[i] = sp.Parts
	}
	addWindows(s.Specs, parts)
	for _, sp := range v.Specs {
		sp.cautionWindows()
		if v.Many {
			sp.of()
		}
	}
	for _, ps := range parts {
		for _, p := range ps {
			v.Stepped = v.Stepped || p.Window != nil
		}
	}
	return v
}

func tally(specs []Spec) string {
	n := map[string]int{}
	for _, s := range specs {
		n[toned(s.Verdict).Class]++
	}
	var parts []string
	for _, w := range []struct{ class, word string }{{"yes", "held"}, {"no", "did not hold"}, {"unknown", "cannot be told"}} {
		if n[w.class] > 0 {
			parts = append(parts, count(n[w.class])+" "+w.word)
		}
	}
	if len(parts) == 0 {
		return "Nothing was played."
	}
	return plural(len(specs), "spec", "specs") + ": " + strings.Join(parts, ", ") + "."
}

func buildSpec(i int, s Spec, b *budget) *specView {
	v := &specView{N: i + 1, S: s, Name: named(s.Name, longName), Tone: toned(s.Verdict), Sure: howSure(s.Lockstep), Axis: frameAxis(s)}
	if v.Name.Short == "" {
		v.Name.Short = fmt.Sprintf("Spec %d", i+1)
	}
	for j, d := range s.Divergences {
		if j >= maxParted {
			v.Other = s.Divergences[j:]
			break
		}
		v.Parts = append(v.Parts, buildPart(v.N, j, d, b))
	}
	if len(v.Parts) > 0 {
		v.First = v.Parts[0]
	}
	v.Families = familyTree(s.Lockstep.Families)
	for j, c := range s.Checkpoints {
		v.Checkpoints = append(v.Checkpoints, buildCheck(v.N, j, c))
	}
	for _, t := range s.Timings {
		v.Timings = append(v.Timings, timingView{T: t, Tone: toned(t.Verdict), Name: named(t.Repeat, longName)})
	}
	for _, r := range s.Repeats {
		rv := repeatView{R: r, Tone: toned(r.Verdict), Name: named(r.Name, longName), Folder: named(r.Folder, 2*longName), Family: "not compared", Class: familyClass(r.Family)}
		if r.Family >= 0 {
			rv.Family = familyName(r.Family)
		}
		v.Repeats = append(v.Repeats, rv)
	}
	v.Survival = buildSurvival(fmt.Sprintf("s%d-survival-plot", v.N), s.Lockstep.Survival)
	v.ReadTiming = buildReadTiming(v.N, s.ReadTiming)
	if v.Flash = buildFlash(v.N, s.Flash); v.Flash != nil {
		v.S.Warnings = slices.Concat(s.Warnings, v.Flash.Left)
	}
	v.Suspects, v.SuspectsLeft = buildSuspects(s.Suspects)
	v.Facts = facts(s)
	return v
}

// facts are the numbers beside the answer.
func facts(s Spec) []fact {
	var out []fact
	if l := s.Lockstep; l.Frames > 0 {
		f := fact{Term: "Frames", Value: count(l.Frames)}
		if l.Unseen > 0 {
			f.Note = plural(l.Unseen, "comparison was", "comparisons were") + " not possible, for lack of a picture"
		}
		out = append(out, f)
	}
	if len(s.Checkpoints) > 0 {
		pass := 0
		for _, c := range s.Checkpoints {
			if c.Verdict == "pass" {
				pass++
			}
		}
		out = append(out, fact{Term: "Checkpoints passed", Value: fmt.Sprintf("%d of %d", pass, len(s.Checkpoints))})
	}
	if n := len(s.Lockstep.Families); n > 1 {
		out = append(out, fact{Term: "Families", Value: count(n), Note: "groups that stayed in lockstep"})
	}
	return out
}

// of tells the labels of the parts of one spec from those of another.
func (v *specView) of() {
	v.Of = " of " + v.Name.Short
	for _, p := range v.Parts {
		p.Of = v.Of
		if p.Window != nil {
			p.Window.Of = v.Of
		}
	}
	if v.Axis != nil {
		v.Axis.Of = v.Of
	}
	if v.Survival != nil {
		v.Survival.Of = v.Of
	}
	if v.ReadTiming != nil {
		v.ReadTiming.Of = v.Of
	}
	if v.Flash != nil {
		v.Flash.Of = v.Of
	}
}
