package reports

import (
	"fmt"
	"math"
)

// checkView is a checkpoint as the page shows it.
type checkView struct {
	ID        string
	Label     string // C1
	C         Checkpoint
	Name      name
	Tone      tone
	Chips     []chip
	ChipsLeft int // passes without a chip
	Templates []*shown
	TLeft     int // templates not shown
	Proofs    []*proof
	Rest      []*proof // results without a picture
	Summary   string
	Small     bool // one picture: takes half the width of a wide window
}

// A chip is a verdict in one repeat, small.
type chip struct {
	Tone tone
	Name name
}

// proof is a result with what was seen.
type proof struct {
	R       Result
	Tone    tone
	Name    name
	Open    bool
	Frame   string
	Score   string
	Needs   string
	At      string
	Seen    *shown
	None    string  // why there is no picture
	Gauge   bool    // the score lies on 0 to 1
	X, Need float64 // score and threshold in units of the gauge, 0 to 100
	want    bool    // it asks for its picture
}

// manyChips is from how many results on passes get no chip of their own.
const manyChips = 24

// wideProof is how many page pixels the picture of a result may take.
const wideProof = 320

func buildCheck(spec, i int, c Checkpoint) *checkView {
	v := &checkView{
		ID: fmt.Sprintf("s%d-c%d", spec, i+1), Label: fmt.Sprintf("C%d", i+1), C: c,
		Name: named(c.Name, longName), Tone: toned(c.Verdict),
	}
	if v.Name.Short == "" {
		v.Name.Short = "checkpoint " + v.Label
	}
	n := map[string]int{}
	troubled, passed := 0, false
	for _, r := range c.Results {
		p := buildProof(c.Kind, r)
		n[p.Tone.Class]++
		if len(c.Results) < manyChips || p.Tone.Class != "yes" {
			v.Chips = append(v.Chips, chip{p.Tone, p.Name})
		} else {
			v.ChipsLeft++
		}
		pass := r.Verdict == "pass"
		switch {
		case pass && !passed:
			passed, p.want, p.Open = true, true, true
			v.Proofs = append(v.Proofs, p)
		case !pass && troubled < maxTroubled:
			troubled++
			p.want, p.Open = true, true
			v.Proofs = append(v.Proofs, p)
		default:
			v.Rest = append(v.Rest, p)
		}
	}
	// What did not pass is read first.
	for j, p := range v.Proofs {
		if p.R.Verdict == "pass" {
			v.Proofs = append(append(append([]*proof{}, v.Proofs[:j]...), v.Proofs[j+1:]...), p)
			break
		}
	}
	v.Summary = verdictCount(n)
	v.Small = len(v.Proofs) <= 1
	return v
}

func verdictCount(n map[string]int) string {
	out := ""
	for _, w := range []struct{ class, word string }{{"yes", "pass"}, {"no", "fail"}, {"unknown", "unseen"}} {
		if n[w.class] > 0 {
			if out != "" {
				out += ", "
			}
			out += count(n[w.class]) + " " + w.word
		}
	}
	if out == "" {
		return "not judged"
	}
	return out
}

func buildProof(kind string, r Result) *proof {
	p := &proof{R: r, Tone: toned(r.Verdict), Name: named(r.Repeat, longName), Frame: count(r.Frame)}
	if r.Frame < 0 {
		p.Frame = "–"
	}
	if r.At != nil {
		p.At = fmt.Sprintf("(%d, %d)", r.At[0], r.At[1])
	}
	if r.Score == nil || math.IsNaN(*r.Score) {
		return p
	}
	p.Score = decimal(*r.Score, 3)
	switch kind {
	case "shows", "reads", "measure":
		p.Needs = "needs at least " + decimal(r.Threshold, 3)
	case "hides":
		p.Needs = "needs less than " + decimal(r.Threshold, 3)
	default:
		p.Needs = "limit " + decimal(r.Threshold, 3)
	}
	if (kind == "shows" || kind == "hides" || kind == "reads" || kind == "measure") && r.Threshold > 0 && r.Threshold <= 1 {
		p.Gauge = true
		p.X, p.Need = round(100*min(max(*r.Score, 0), 1)), round(100*r.Threshold)
	}
	return p
}

// pictures embeds what the budget still has room for: first what did not pass,
// then, in a second call, the first pass of each checkpoint and the templates.
func (v *specView) pictures(s Spec, b *budget, passes bool) {
	for i, c := range v.Checkpoints {
		for _, p := range c.Proofs {
			if !p.want || (p.R.Verdict == "pass") != passes {
				continue
			}
			switch {
			case p.R.Seen == nil:
				p.None = "No picture that is surely of this frame."
				if p.R.Verdict != "unseen" {
					p.None = "No picture was kept."
				}
			case !b.take(p.R.Seen):
				p.None = "Left out, for the page is large enough."
			default:
				if p.Seen = show(p.R.Seen, wideProof); p.Seen == nil {
					p.None = "This picture could not be read."
				}
			}
		}
		if passes {
			continue
		}
		for j := range s.Checkpoints[i].Templates {
			t := &s.Checkpoints[i].Templates[j]
			if j >= maxTemplates || !b.take(t) {
				c.TLeft++
				continue
			}
			if sh := show(t, 96); sh != nil {
				c.Templates = append(c.Templates, sh)
			}
		}
	}
}
