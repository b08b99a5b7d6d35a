package decision

import (
	"cmp"
	"fmt"
	"slices"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
)

// Decide decides. runs are in the order in which they were played, bench after
// bench, and steps is their comparison under the same names, with the first run of
// runs as the first; runs that could not be compared are missing in it.
func Decide(p Policy, c Claim, runs []RunFacts, steps lockstep.Result) Decision {
	d := &decider{steps: steps, Decision: Decision{
		Format: Format, Policy: p, Claim: c, Runs: append([]RunFacts{}, runs...), Benches: []Bench{},
		Reasons: []Reason{}, Notes: []string{}, Lockstep: lockstepOf(steps),
	}}
	if len(runs) == 0 {
		d.cannot("", "nothing was played")
	}
	for i := range runs {
		d.run(&runs[i])
	}
	d.together()
	d.time()
	d.settle()
	return d.Decision
}

func lockstepOf(s lockstep.Result) Lockstep {
	out := Lockstep{Frames: s.Frames, Unseen: s.Unseen, Families: [][]string{}}
	if n := len(s.Runs); n > 1 {
		out.Compared = s.Frames * int64(n-1)
	}
	if s.Divergence != nil {
		f := int64(s.Divergence.Frame)
		out.Divergence = &f
	}
	for _, f := range s.Families {
		out.Families = append(out.Families, f.Runs)
	}
	return out
}

type decider struct {
	Decision
	steps lockstep.Result
}

func (d *decider) no(run, format string, a ...any) {
	d.Reasons = append(d.Reasons, Reason{true, run, fmt.Sprintf(format, a...)})
}

func (d *decider) cannot(run, format string, a ...any) {
	d.Reasons = append(d.Reasons, Reason{false, run, fmt.Sprintf(format, a...)})
}

func (d *decider) note(format string, a ...any) {
	d.Notes = append(d.Notes, fmt.Sprintf(format, a...))
}

// run looks at what a run says for itself.
func (d *decider) run(r *RunFacts) {
	if r.Program != d.Claim.Program {
		d.no(r.Name, "it was played from another program than the claim's")
	}
	if r.State != record.Sealed {
		d.cannot(r.Name, "the run is %s, not sealed", cmp.Or(string(r.State), "of no known state"))
	}
	for _, x := range r.Damage {
		d.cannot(r.Name, "the evidence is damaged: %s", x)
	}
	if r.Pictures == 0 {
		d.cannot(r.Name, "nothing was captured")
	}
	if r.Underruns > 0 {
		d.cannot(r.Name, "the board had no program data for %d latch pulses, so it served something else", r.Underruns)
	}
	measured := r.Clock == clock.Measured
	if !measured {
		d.cannot(r.Name, "the frame clock is %s, not measured%s", cmp.Or(string(r.Clock), "not known"), after(r.why[frameClock]))
	}
	names := make([]string, len(r.Checkpoints))
	for i, x := range r.Checkpoints {
		names[i] = x.Name
		d.verdict(r, fmt.Sprintf("checkpoint %q", x.Name), x.Name, x.Verdict, measured)
	}
	if !slices.Equal(names, d.Claim.Checkpoints) {
		d.cannot(r.Name, "the checkpoints that were judged are not those of the spec")
	}
	if r.Timing == nil {
		d.cannot(r.Name, "no time was measured")
		return
	}
	d.verdict(r, "timing", timing, r.Timing.Verdict, measured)
}

func (d *decider) verdict(r *RunFacts, what, key string, v judge.Verdict, measured bool) {
	switch {
	case v == judge.Pass:
	case v == judge.Fail && measured:
		d.no(r.Name, "%s fails%s", what, after(r.why[key]))
	case v == judge.Fail:
		d.cannot(r.Name, "%s fails, but its frames may be one off%s", what, after(r.why[key]))
	default:
		d.cannot(r.Name, "%s is unseen%s", what, after(r.why[key]))
	}
}

func after(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// inStep are the runs in lockstep with the first.
func (d *decider) inStep() []string {
	if len(d.steps.Families) == 0 || len(d.Runs) == 0 || !slices.Contains(d.steps.Families[0].Runs, d.Runs[0].Name) {
		return nil
	}
	return d.steps.Families[0].Runs
}

// together looks at the runs of all benches together.
func (d *decider) together() {
	in := d.inStep()
	left := map[string]int{}    // could not be compared, by bench
	clocks := map[string]bool{} // run's clock is measured
	for _, r := range d.Runs {
		clocks[r.Name] = r.Clock == clock.Measured
		i := slices.IndexFunc(d.Benches, func(b Bench) bool { return b.Name == r.Bench })
		if i < 0 {
			d.Benches = append(d.Benches, Bench{Name: r.Bench})
			i = len(d.Benches) - 1
		}
		b := &d.Benches[i]
		b.Runs = append(b.Runs, r.Name)
		switch {
		case slices.Contains(in, r.Name):
			b.Lockstep++
		case !slices.Contains(d.steps.Runs, r.Name):
			left[r.Bench]++
			d.cannot(r.Name, "it could not be compared with the first run")
		}
	}
	doubtful := map[string]int{} // runs that part in a doubtful way, by bench
	for _, l := range d.steps.Lives {
		at := slices.IndexFunc(d.Runs, func(r RunFacts) bool { return r.Name == l.Run })
		if l.Parted == nil || at < 0 {
			continue
		}
		x := l.Parted
		doubt := Doubt(x)
		if doubt == "" && !(clocks[l.Run] && clocks[x.A]) {
			doubt = "a frame clock is not measured, so its frames may be one off"
		}
		if doubt != "" {
			doubtful[d.Runs[at].Bench]++
			d.note("%s seems to part from %s at frame %d, but %s", l.Run, x.A, x.Frame, doubt)
			continue
		}
		d.note("%s parts from %s at frame %d (%s, points to the %s): %s", l.Run, x.A, x.Frame, x.Kind, x.Part, x.Why)
	}
	for _, b := range d.Benches {
		missing := d.Policy.Repeats - len(b.Runs)
		if missing > 0 {
			d.cannot("", "%d of %d repeats were played on the bench %s", len(b.Runs), d.Policy.Repeats, b.Name)
		}
		open := left[b.Name] + doubtful[b.Name] + max(missing, 0)
		if in == nil { // there is nothing to hold them against
			open = max(len(b.Runs), d.Policy.Repeats)
		}
		switch {
		case b.Lockstep >= d.Policy.Lockstep:
		case b.Lockstep+open >= d.Policy.Lockstep:
			d.cannot("", "%d runs of the bench %s are in lockstep with the first run, the house asks for %d, and of %d it cannot be told", b.Lockstep, b.Name, d.Policy.Lockstep, open)
		default:
			d.no("", "%d of %d runs of the bench %s are in lockstep with the first run, and the house asks for %d", b.Lockstep, len(b.Runs), b.Name, d.Policy.Lockstep)
		}
	}
	if n := d.differentBenches(); n < d.Policy.Benches {
		d.cannot("", "it was played on %d of the %d benches that the house asks for", n, d.Policy.Benches)
	}
	d.Notes = append(d.Notes, d.steps.Warnings...)
}

// differentBenches is how many benches of different equipment there are.
func (d *decider) differentBenches() int {
	seen := map[string]string{} // equipment by bench
	for _, r := range d.Runs {
		if was, ok := seen[r.Bench]; ok && was != r.Equipment {
			d.cannot(r.Name, "it was played on other equipment than the runs before on the bench %s", r.Bench)
		} else if !ok {
			seen[r.Bench] = r.Equipment
		}
	}
	different := map[string]bool{}
	for _, e := range seen {
		different[e] = true
	}
	if len(different) < len(seen) {
		d.note("%d of the %d benches have the same equipment as another and do not count", len(seen)-len(different), len(seen))
	}
	return len(different)
}

// Doubt says why a parting may be no more than one of the frame clocks or of the
// capture card; empty when it is the run that parts.
func Doubt(d *lockstep.Divergence) string {
	if why := d.Doubtful(); why != "" {
		return why
	}
	if d != nil && d.Kind == lockstep.KindEnd && d.Part == lockstep.PartCard {
		return "it is the capture card that ended it"
	}
	return ""
}

// reach is by how many frames before the later event a run in lockstep may last be
// seen to agree.
const reach = 30

// time intersects the times of the runs in lockstep.
func (d *decider) time() {
	in := d.inStep()
	if len(d.Runs) == 0 || d.Runs[0].Timing == nil || d.Runs[0].Timing.Verdict != judge.Pass {
		return
	}
	first := d.Runs[0].Timing
	for _, l := range d.steps.Lives {
		if slices.Contains(in, l.Run) && int64(l.Frame) < first.To-reach {
			d.cannot(l.Run, "it was last seen to agree with the first run at frame %d, long before the later event at frame %d", l.Frame, first.To)
		}
	}
	m := &Measured{Frames: -1, Low: first.Low, High: first.High, From: first.From, To: first.To}
	for _, r := range d.Runs[1:] {
		t := r.Timing
		if t == nil || t.Verdict != judge.Pass {
			continue
		}
		if !slices.Contains(in, r.Name) {
			d.note("%s is not in lockstep with the first run, so its time of %d to %d frames does not count", r.Name, t.Low, t.High)
			continue
		}
		m.Low, m.High = max(m.Low, t.Low), min(m.High, t.High)
	}
	d.Measured = m
	sure := !slices.ContainsFunc(d.Runs, func(r RunFacts) bool { return r.Clock != clock.Measured })
	switch {
	case m.Low > m.High:
		d.cannot("", "the times of runs in lockstep contradict one another: one takes at least %d frames and another at most %d", m.Low, m.High)
	case m.Low > d.Claim.Frames && sure:
		d.no("", "it takes %s, and %s were claimed", span(m), frames(d.Claim.Frames))
	case m.Low > d.Claim.Frames:
		d.cannot("", "it seems to take %s, and %s were claimed", span(m), frames(d.Claim.Frames))
	case m.Low < m.High:
		d.cannot("", "the time is %s, for frames that nobody saw, and not one number", span(m))
	}
	if m.Low != m.High {
		return
	}
	m.Frames = m.Low
	if r := d.Claim.Rate; r.Num > 0 {
		m.Seconds = float64(m.Frames) * float64(r.Den) / float64(r.Num)
	}
	if m.Frames < d.Claim.Frames {
		d.note("it takes %s, %d fewer than claimed", frames(m.Frames), d.Claim.Frames-m.Frames)
	}
}

func span(m *Measured) string {
	if m.Low == m.High {
		return frames(m.Low)
	}
	return fmt.Sprintf("%d to %d frames", m.Low, m.High)
}

func frames(n int64) string {
	if n == 1 {
		return "1 frame"
	}
	return fmt.Sprintf("%d frames", n)
}

// settle turns the reasons into the outcome.
func (d *decider) settle() {
	d.Outcome, d.Code = Certified, 0
	for _, r := range d.Reasons {
		d.Outcome = Refused
		switch {
		case r.Certain:
			d.Code = 1
		case d.Code == 0:
			d.Code = 3
		}
	}
	if d.Outcome == Certified && (d.Measured == nil || d.Measured.Frames < 0) {
		// No rule leads here; a certificate without a time must not be.
		d.cannot("", "no time was measured")
		d.Outcome, d.Code = Refused, 3
	}
}
