package reports

import (
	"fmt"
	"strings"
)

// baselineView is the check of a candidate against a baseline.
type baselineView struct {
	B     Baseline
	Tone  tone
	Needs string // what it would take to tell
	Specs []baselineSpecView
}

type baselineSpecView struct {
	ID       string
	S        BaselineSpec
	Name     name
	Tone     tone
	Needs    string
	Open     bool
	Parts    string // frame where the pictures part
	Rows     []baselineRowView
	Survival *survivalView
}

type baselineRowView struct {
	R     BaselineRow
	Tone  tone
	Needs string
}

func buildBaseline(b *Baseline) *baselineView {
	if b == nil {
		return nil
	}
	v := &baselineView{B: *b, Tone: toned(b.Verdict), Needs: needs(b.Verdict)}
	for i, s := range b.Specs {
		id := fmt.Sprintf("b%d", i+1)
		sv := baselineSpecView{
			ID: id, S: s, Name: named(s.Name, longName), Tone: toned(s.Verdict), Needs: needs(s.Verdict),
			Survival: buildSurvival(id+"-survival", s.Survival[0], s.Survival[1]),
		}
		sv.Open = sv.Tone.Class != "yes" || len(b.Specs) == 1
		if sv.Name.Short == "" {
			sv.Name.Short = fmt.Sprintf("Spec %d", i+1)
		}
		if s.PartsAt != nil {
			sv.Parts = count(*s.PartsAt)
		}
		for _, r := range s.Rows {
			sv.Rows = append(sv.Rows, baselineRowView{r, toned(r.Verdict), needs(r.Verdict)})
		}
		v.Specs = append(v.Specs, sv)
	}
	return v
}

// cannotTell begins a verdict that also says what it would take.
const cannotTell = "cannot tell: "

func needs(verdict string) string {
	rest, _ := strings.CutPrefix(verdict, cannotTell)
	if rest == verdict {
		return ""
	}
	return rest
}
