package reports

import (
	"fmt"
	"html/template"

	"latchproof/reports/plot"
)

// survivalView is a survival curve, or two, as the page shows them.
type survivalView struct {
	Of     string        // as specView.Of
	SVG    template.HTML // empty when there is nothing to draw
	None   string        // what is said instead
	Words  []string      // the sentences of what is drawn
	Two    bool          // baseline and candidate
	Limits string        // what the band is
	Cut    bool
	Tables []stepsView
}

// stepsView is the steps of one curve, in numbers.
type stepsView struct {
	Name string
	Rows []stepRow
	Left int // steps not listed
	// Count is how many rows there are, in words.
	Count string
}

type stepRow struct {
	Frame, AtRisk, Parted, Cut string
	Share, SE, Low, High       string
}

// manySteps is how many rows the table of steps has at most. With more steps,
// those at which none parted are left out first; the last one always stands.
const manySteps = 100

// buildSurvival draws one curve, or that of a baseline and of a candidate; id
// begins the identifiers. It is nil when there is neither.
func buildSurvival(id string, curves ...*Survival) *survivalView {
	v := &survivalView{Two: len(curves) > 1}
	names := []string{""}
	if v.Two {
		names = []string{"Baseline", "Candidate"}
	}
	drawn := make([]plot.Curve, 2)
	given, confidence, repeats := 0, 0.0, 0
	desc := ""
	for i, s := range curves {
		if s == nil {
			continue
		}
		given++
		repeats += s.Repeats
		confidence = max(confidence, s.Confidence)
		if s.Sentence != "" {
			v.Words = append(v.Words, s.Sentence)
		}
		if s.Repeats <= 0 {
			continue
		}
		for _, st := range s.Steps {
			drawn[i].Steps = append(drawn[i].Steps, plot.Step{Frame: float64(st.Frame), Share: st.Survival, Low: st.Low, High: st.High, Cut: st.Cut})
			v.Cut = v.Cut || st.Cut > 0
		}
		v.Tables = append(v.Tables, buildSteps(names[i], s.Steps))
		if names[i] != "" {
			desc += names[i] + ": "
		}
		desc += described(*s)
	}
	if given == 0 {
		return nil
	}
	if confidence > 0 && confidence < 1 {
		v.Limits = decimal(100*confidence, 0) + "\u00a0% limits"
	}
	var second *plot.Curve
	if v.Two && len(drawn[1].Steps) > 0 {
		second = &drawn[1]
	}
	svg, err := plot.Survival(plot.Caption{ID: id, Title: "How long repeats stay in lockstep", Desc: desc}, drawn[0], second)
	if err != nil || repeats == 0 {
		v.None = "How long repeats stay in lockstep is not known: there is no repeat beside the first that could be compared with it."
		return v
	}
	v.SVG = template.HTML(svg) // made by package plot, which escapes its texts
	return v
}

// described says in words what a curve shows.
func described(s Survival) string {
	out := fmt.Sprintf("Of %s, %s parted from the reference and %s cut short.", plural(s.Repeats, "repeat", "repeats"), count(s.Parted), were(s.Cut))
	if n := len(s.Steps); n > 0 {
		last := s.Steps[n-1]
		out += fmt.Sprintf(" At frame %s, %s of them are still in lockstep.", count(last.Frame), shareOf(last.Survival))
		if last.limits() {
			out += fmt.Sprintf(" The limits there are %s and %s.", percent(last.Low, false), percent(last.High, true))
		}
	}
	return out + " The list of steps says the same in numbers. "
}

func were(n int) string {
	if n == 1 {
		return "1 was"
	}
	return count(n) + " were"
}

func (s SurvivalStep) limits() bool { return s.High > 0 || s.Survival == 0 }

func shareOf(f float64) string { return decimal(100*f, 1) + "\u00a0%" }

func buildSteps(name string, steps []SurvivalStep) stepsView {
	v := stepsView{Name: name}
	for i, s := range steps {
		if len(steps) > manySteps && (len(v.Rows) >= manySteps-1 || s.Parted == 0) && i < len(steps)-1 {
			v.Left++
			continue
		}
		r := stepRow{
			Frame: count(s.Frame), AtRisk: count(s.AtRisk), Parted: count(s.Parted), Cut: count(s.Cut),
			Share: shareOf(s.Survival), SE: shareOf(s.SE), Low: "–", High: "–",
		}
		if s.limits() {
			r.Low, r.High = percent(s.Low, false), percent(s.High, true)
		}
		v.Rows = append(v.Rows, r)
	}
	v.Count = plural(len(v.Rows), "row", "rows")
	return v
}
