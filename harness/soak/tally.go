package soak

import (
	"fmt"
	"strings"

	"latchproof/harness/stats"
)

// Tally is what the entries add up to. It does not grow with the repeats, but for
// the founders of families.
type Tally struct {
	Last          int // number of the last repeat that was finished
	Clean, Parted int64
	LeftOut       int64
	Stopped       int64
	Doubtful      int64 // left out because they part doubtfully
	Assumed       int64 // with a frame clock that is not a measured one
	Frames        int64 // that the longest repeat covers
	First         *Parting
	Reference     int   // number of the reference; 0 when there is none yet
	Whole         []int // the first repeats that are kept whole, at most ShownMost
	Checks        map[string]Count
	Held          int64    // repeats whose checkpoints all passed
	Reasons       []string // why repeats were left out or stopped, the first of them
}

// Count is how often a checkpoint did not pass.
type Count struct{ Failed, Unseen int64 }

// ShownMost is how many repeats a report shows at most.
const ShownMost = 60

// Add takes an entry; whole is what Keeper.After says of it.
func (t *Tally) Add(e Entry, whole bool) {
	say := func() {
		if len(t.Reasons) < most {
			t.Reasons = append(t.Reasons, fmt.Sprintf("%s was %s: %s", Name(e.Repeat), e.Outcome, e.Why))
		}
	}
	if e.Outcome == Stopped {
		t.Stopped++
		say()
		return
	}
	t.Last = e.Repeat
	if whole && len(t.Whole) < ShownMost {
		t.Whole = append(t.Whole, e.Repeat)
	}
	if e.Assumed {
		t.Assumed++
	}
	if e.Compared != nil {
		t.Frames = max(t.Frames, e.Compared.Frames)
	}
	switch e.Outcome {
	case Reference:
		t.Reference = e.Repeat
	case Clean:
		t.Clean++
	case Parted:
		t.Parted++
		if t.First == nil || e.Compared.Parted.Frame < t.First.Frame {
			t.First = e.Compared.Parted
		}
	case Left:
		t.LeftOut++
		if e.Compared != nil && e.Compared.Parted != nil {
			t.Doubtful++
		}
		say()
		return // its checkpoints say nothing either
	}
	if len(e.Failed)+len(e.Unseen) == 0 {
		t.Held++
		return
	}
	if t.Checks == nil {
		t.Checks = map[string]Count{}
	}
	for _, name := range e.Failed {
		c := t.Checks[name]
		c.Failed++
		t.Checks[name] = c
	}
	for _, name := range e.Unseen {
		c := t.Checks[name]
		c.Unseen++
		t.Checks[name] = c
	}
}

// Trials are the repeats that count for the claim.
func (t *Tally) Trials() int64 { return t.Clean + t.Parted }

// Judged are the repeats whose checkpoints count: the trials and the reference.
func (t *Tally) Judged() int64 {
	if t.Reference == 0 {
		return 0
	}
	return t.Trials() + 1
}

// Checkpoints are how many judgements of checkpoints failed, and how many are
// unseen.
func (t *Tally) Checkpoints() (failed, unseen int64) {
	for _, c := range t.Checks {
		failed += c.Failed
		unseen += c.Unseen
	}
	return failed, unseen
}

// Line is how far the soak has come: "repeat 120: 118 clean, 1 parted at frame
// 525, 1 left out; 412 more clean repeats would prove it".
func (t *Tally) Line(w stats.Weighing) string {
	parts := []string{fmt.Sprintf("%d clean", t.Clean)}
	switch {
	case t.Parted == 1:
		parts = append(parts, fmt.Sprintf("1 parted at frame %d", t.First.Frame))
	case t.Parted > 1:
		parts = append(parts, fmt.Sprintf("%d parted, the earliest at frame %d", t.Parted, t.First.Frame))
	}
	if t.LeftOut > 0 {
		parts = append(parts, fmt.Sprintf("%d left out", t.LeftOut))
	}
	return fmt.Sprintf("repeat %d: %s; %s", t.Last, strings.Join(parts, ", "), Outlook(w))
}

// Outlook is what a claim lacks, in words.
func Outlook(w stats.Weighing) string {
	switch {
	case w.Proven:
		return "proven"
	case w.Refuted:
		return "refuted"
	case w.CleanNeeded < 0:
		return "more than a million more clean repeats would be needed to prove it"
	case w.CleanNeeded == 1:
		return "1 more clean repeat would prove it"
	}
	return fmt.Sprintf("%d more clean repeats would prove it", w.CleanNeeded)
}
