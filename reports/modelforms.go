package reports

// Counts is how often each verdict was given.
type Counts struct {
	Pass   int64 `json:"pass"`   // the checkpoint held
	Fail   int64 `json:"fail"`   // it did not
	Unseen int64 `json:"unseen"` // its frame was not seen
}

// counted is how often each verdict was given over all repeats.
func (c Checkpoint) counted() Counts {
	if c.Counts != nil {
		return *c.Counts
	}
	var n Counts
	for _, r := range c.Results {
		switch toned(r.Verdict).Class {
		case "yes":
			n.Pass++
		case "no":
			n.Fail++
		default:
			n.Unseen++
		}
	}
	return n
}

// why is the first reason for which the checkpoint did not pass; without one,
// how far apart lies what was read.
func (c Checkpoint) why() string {
	for _, r := range c.Results {
		if r.Verdict != "pass" {
			return r.Repeat + ": " + r.Why
		}
	}
	return c.Spread
}

// lead is the answer in short: what is said first in every form.
type lead struct {
	Tone     tone
	Sentence string
	Spec     int // index of the spec that it is of, -1 when of none or of several
}

// leadOf gives the answer of what was asked: the check against a baseline, the
// soak, or the specs. Of several specs the count comes first and then the first
// that has the verdict of all.
func leadOf(s Session) lead {
	switch {
	case s.Baseline != nil:
		return lead{toned(s.Baseline.Verdict), s.Baseline.Sentence, -1}
	case s.Soak != nil:
		l := lead{toned(s.Soak.Verdict), s.Soak.Sentence, -1}
		if len(s.Specs) == 1 {
			l.Spec = 0
		}
		return l
	case len(s.Specs) == 1:
		return lead{toned(s.Specs[0].Verdict), s.Specs[0].Sentence, 0}
	}
	return lead{toned(overall(s.Specs)), tally(s.Specs), -1}
}

// parted is the first divergence of the session: that of the first spec that has
// one, which need not be at the earliest frame of all.
func parted(s Session) (spec int, d *Divergence) {
	for i := range s.Specs {
		if ds := s.Specs[i].Divergences; len(ds) > 0 {
			return i, &ds[0]
		}
	}
	return -1, nil
}

// sign is a verdict's sign in text.
func (t tone) sign() string {
	switch t.Class {
	case "yes":
		return "✓"
	case "no":
		return "✗"
	}
	return "?"
}

// passed is how many checkpoints of a spec passed, of how many; a dash when it
// has none.
func passed(s Spec) string {
	if len(s.Checkpoints) == 0 {
		return "–"
	}
	n := 0
	for _, c := range s.Checkpoints {
		if c.Verdict == "pass" {
			n++
		}
	}
	return count(n) + " of " + count(len(s.Checkpoints))
}

// inStep is how many repeats are in lockstep, of how many.
func inStep(l Lockstep) string {
	if l.Repeats <= 0 {
		return "none compared"
	}
	out := count(l.InStep) + " of " + count(l.Repeats)
	if l.Required > 0 && l.Required != l.Repeats {
		out += " (" + count(l.Required) + " asked)"
	}
	return out
}

// partedAt is where the repeats of a spec part, in short.
func partedAt(s Spec) string {
	if len(s.Divergences) == 0 {
		return "–"
	}
	d := s.Divergences[0]
	return "frame " + count(d.Frame) + ", " + d.Kind
}
