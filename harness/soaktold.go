package harness

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/onsi/ginkgo/v2"

	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/soak"
	"latchproof/harness/stats"
	"latchproof/reports"
)

// Header is what is soaked, and by which rules.
func (k *Soak) Header() soak.Header { return k.header }

// Tally is what the repeats add up to so far.
func (k *Soak) Tally() soak.Tally { return k.tally }

// Checkpoints are the names of what is judged in every repeat.
func (k *Soak) Checkpoints() (names []string) {
	for _, cp := range k.spec.Checkpoints {
		names = append(names, cp.Name)
	}
	if k.spec.Timing != nil {
		names = append(names, "timing")
	}
	return names
}

// Families are the families found so far.
func (k *Soak) Families() []lockstep.Family { return k.tree.Result().Families }

// Weighing is what the repeats so far say about the claim.
func (k *Soak) Weighing() stats.Weighing {
	w, _ := k.weigh() // the claim was checked at the beginning
	return w
}

// Verdict is Held when the claim is proven and all checkpoints passed, NotHeld
// when it is refuted or a checkpoint surely failed, else CannotTell.
func (k *Soak) Verdict() string {
	w := k.Weighing()
	failed, unseen := k.tally.Checkpoints()
	switch {
	case w.Refuted || failed > 0:
		return NotHeld
	case w.Proven && unseen == 0 && k.err == nil:
		return Held
	}
	return CannotTell
}

// ExitCode is the command's exit code for the soak.
func (k *Soak) ExitCode() int {
	switch k.Verdict() {
	case Held:
		return 0
	case NotHeld:
		return 1
	}
	return 3
}

// Sentence answers in words whether the claim is proven, and how far it is if it
// is not.
func (k *Soak) Sentence() string {
	w, t := k.Weighing(), &k.tally
	out := fmt.Sprintf("Not told whether %s", k.header.Claim)
	switch {
	case w.Proven:
		out = fmt.Sprintf("Proven: %s", k.header.Claim)
	case w.Refuted:
		out = fmt.Sprintf("Refuted: %s", k.header.Claim)
	}
	if n := t.Trials(); n > 0 {
		out += fmt.Sprintf("; %d of %d repeats stayed in lockstep with the first, over %d frames", t.Clean, n, t.Frames)
		if iv, err := stats.ClopperPearson(t.Parted, n, 0.95); err == nil {
			out += fmt.Sprintf(", and %s parted (95 %% interval %s to %s)", Percent(float64(t.Parted)/float64(n)), Percent(iv.Low), Percent(iv.High))
		}
	}
	if d := t.First; d != nil {
		out += fmt.Sprintf("; the earliest parting is at frame %d (%s): %s", d.Frame, d.Kind, d.Why)
	}
	if t.LeftOut > 0 {
		out += fmt.Sprintf("; %d left out, of them %d that part doubtfully", t.LeftOut, t.Doubtful)
	}
	if failed, unseen := t.Checkpoints(); failed+unseen > 0 {
		out += fmt.Sprintf("; %s failed and %d unseen", checkpoints(int(failed)), unseen)
	}
	if !w.Proven && !w.Refuted {
		out += "; " + soak.Outlook(w)
	}
	switch {
	case k.halt != "":
		out += "; it ended because " + k.halt
	case k.err != nil:
		out += "; it ended because " + oneLine(k.err)
	case !w.Proven && !w.Refuted && t.Last >= k.header.Most:
		out += fmt.Sprintf("; it ended because no more than %d repeats may be played", k.header.Most)
	}
	return strings.TrimRight(out, ".") + "."
}

// RunSoak runs a soak as one node, labelled `until`, of a tree as RunTree builds
// it; the time-out of a repeat is the soak's own affair. The error is that of the
// JUnit file, or the soak's.
func RunSoak(k *Soak, o TreeOptions) error {
	var failed error
	broken := runTree(o, func() {
		ginkgo.Describe(k.spec.Name, ginkgo.Labels(k.spec.Labels), func() {
			ginkgo.It(k.header.Claim.String(), ginkgo.Label("until"), func(ctx ginkgo.SpecContext) {
				if failed = k.Run(ctx); failed != nil {
					ginkgo.Fail(oneLine(failed))
				}
				if k.ExitCode() != 0 {
					ginkgo.Fail(k.Sentence())
				}
			})
		})
	})
	return errors.Join(failed, broken)
}

// Report gathers what was found for a report. It shows the first of the repeats
// that are kept whole, with the pictures around the first partings decoded from their
// videos.
func (k *Soak) Report(ctx context.Context, title, version string) (reports.Session, error) {
	cs := newCase(k.spec, k.tally.Last)
	cs.Bench, cs.tree, cs.assumed = k.player.Bench.Describe(), k.tree, k.assumed
	defer cs.Release()
	byName := map[string]*Run{}
	for _, n := range k.tally.Whole {
		run, err := reopen(k.dir(n), soak.Name(n), k.spec)
		if err != nil {
			cs.left = append(cs.left, oneLine(err)) // a partial run, say
			continue
		}
		if run.Pictures > 0 {
			counts := run.Counts
			if err := run.count(); err != nil {
				return reports.Session{}, err
			}
			run.Counts = counts
		}
		cs.runs[n] = &attempt{run: run}
		byName[run.Name] = run
	}
	cs.left = append(cs.left, k.tally.Reasons...)
	if n := k.tally.LeftOut + k.tally.Stopped - int64(len(k.tally.Reasons)); n > 0 {
		cs.left = append(cs.left, fmt.Sprintf("%d more were left out or stopped", n))
	}
	s, err := report(ctx, title, version, []*Case{cs})
	if err != nil {
		return s, err
	}
	k.retell(&s.Specs[0], byName)
	s.Soak = k.reported()
	return s, nil
}

// reported is the soak on the page.
func (k *Soak) reported() *reports.Soak {
	w, t := k.Weighing(), k.tally
	out := &reports.Soak{
		Claim: k.header.Claim.String(), Verdict: "cannot tell", Repeats: int64(t.Last), Clean: t.Clean, Parted: t.Parted, Left: t.LeftOut,
		CleanNeeded: w.CleanNeeded, Sentence: k.Sentence(), Policy: k.header.Policy,
	}
	switch {
	case w.Proven:
		out.Verdict, out.CleanNeeded = "proven", 0
	case w.Refuted:
		out.Verdict, out.CleanNeeded = "refuted", 0
	}
	return out
}

// retell puts the soak's verdict in the place of the case's, and counts over all
// repeats in that of those over the ones shown.
func (k *Soak) retell(sp *reports.Spec, shown map[string]*Run) {
	sp.Verdict, sp.Sentence = k.Verdict(), k.Sentence()
	for i := range sp.Lockstep.Families {
		f := &sp.Lockstep.Families[i]
		all := len(f.Repeats)
		f.Repeats = slices.DeleteFunc(f.Repeats, func(name string) bool { return shown[name] == nil })
		f.More = int64(all - len(f.Repeats))
	}
	// A soak asks for a rate, and not for so many in lockstep.
	sp.Lockstep.Required, sp.Lockstep.Held = 0, k.Verdict() == Held
	if n := len(shown); n < k.tally.Last {
		sp.Warnings = append([]string{fmt.Sprintf("%d of the %d repeats are shown here: the first of those that were kept whole", n, k.tally.Last)}, sp.Warnings...)
	}
	if n := len(sp.Warnings); n > ShownWarnings {
		sp.Warnings = append(sp.Warnings[:ShownWarnings:ShownWarnings], fmt.Sprintf("%d more notes are left out here", n-ShownWarnings))
	}
	for i := range sp.Checkpoints {
		c := k.tally.Checks[sp.Checkpoints[i].Name]
		sp.Checkpoints[i].Counts = &reports.Counts{Pass: k.tally.Judged() - c.Failed - c.Unseen, Fail: c.Failed, Unseen: c.Unseen}
		switch {
		case c.Failed > 0:
			sp.Checkpoints[i].Verdict = string(judge.Fail)
		case c.Unseen > 0:
			sp.Checkpoints[i].Verdict = string(judge.Unseen)
		case k.tally.Judged() > 0:
			sp.Checkpoints[i].Verdict = string(judge.Pass)
		}
	}
}

// ShownWarnings is how many notes of a soak a report shows.
const ShownWarnings = 60
