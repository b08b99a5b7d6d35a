package harness

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"latchproof/harness/claim"
	"latchproof/harness/decision"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/reports"
)

// Certification plays a claim as often as the house asks, and decides. The runs lie
// in the output folder under the names that they have in a bundle:
//
//	OUT/runs/BENCH/run-001 ...
//
// BENCH is the name of the bench, made a folder's name.
type Certification struct {
	Submission *claim.Submission
	// Early says why not all repeats were played; empty when they were, or when
	// playing was stopped from outside.
	Early string

	out     string
	version string
	benches []certBench
	runs    *Case // of all benches, one after another
	facts   []decision.RunFacts
	metas   []record.Meta // of the same runs
}

type certBench struct {
	name   string
	player *Player
}

// RunsFolder is where in the output folder the runs of a certification lie.
const RunsFolder = "runs"

// ErrBenches says that a claim cannot be certified on the benches that were given.
var ErrBenches = errors.New("not the benches that the house asks for")

// NewCertification readies the benches for a claim that was opened with its house.
// p says how to play; its bench and its output folder are not looked at. The error
// is ErrBenches: fewer than the house asks for, or two of one name.
func NewCertification(s *claim.Submission, benches []Bench, out string, p Player) (*Certification, error) {
	h := s.House
	if len(benches) < h.Benches {
		return nil, fmt.Errorf("%w: %s asks for %d, and there are %d; name each with --bench", ErrBenches, h.Name, h.Benches, len(benches))
	}
	c := &Certification{Submission: s, out: out, version: p.Version}
	named := map[string]string{}
	for _, b := range benches {
		info := b.Describe()
		name := folderName(info.Name)
		if other, ok := named[strings.ToLower(name)]; ok {
			return nil, fmt.Errorf("%w: %q and %q are one name; name each bench differently in its file", ErrBenches, other, info.Name)
		}
		named[strings.ToLower(name)] = info.Name
		player := p
		player.Bench, player.Out, player.Flat, player.KeepScreens = b, filepath.Join(out, RunsFolder, name), true, true
		c.benches = append(c.benches, certBench{name, &player})
	}
	spec := *s.Spec
	spec.Repeats = h.Repeats * len(benches)
	spec.Lockstep.Required = h.Lockstep * len(benches)
	c.runs = newCase(&spec, spec.Repeats)
	c.runs.Bench = benches[0].Describe()
	c.runs.run = func(ctx context.Context, n int) (*Run, error) {
		bench, k := c.place(n)
		run, err := bench.player.Play(ctx, &spec, k, h.Repeats)
		if run != nil {
			run.Name = certRunName(bench.name, k)
		}
		return run, err
	}
	return c, nil
}

// place is the bench of run n (from 1) of all, and its number there.
func (c *Certification) place(n int) (certBench, int) {
	repeats := c.Submission.House.Repeats
	return c.benches[(n-1)/repeats], (n-1)%repeats + 1
}

func certRunName(bench string, k int) string { return RunsFolder + "/" + bench + "/" + runName(k) }

// Play plays all repeats, bench after bench, with a time-out for each. It ends
// before that when something surely does not hold, or when a bench is gone; Early
// says so. The error is ErrStopped, or that of the system.
func (c *Certification) Play(ctx context.Context, timeout time.Duration) error {
	if timeout == 0 {
		timeout = DefaultTimeout
	}
	if t := c.Submission.Spec.Timeout; t > 0 {
		timeout = t
	}
	for n := 1; n <= c.runs.Repeats; n++ {
		limit, cancel := context.WithTimeout(ctx, timeout)
		run, err := c.runs.Run(limit, n)
		cancel()
		if ctx.Err() != nil {
			return fmt.Errorf("%w: nothing is decided about a claim that was not played to its end", ErrStopped)
		}
		if run == nil && !isGone(err) { // nothing can be played at all
			return err
		}
		c.take(n, run, err)
		left := c.runs.Repeats - n
		switch d := c.Decide(); {
		case left == 0:
		case isGone(err):
			c.Early = fmt.Sprintf("the bench is gone, so %s not played: %s", repeatsWere(left), oneLine(err))
		case isFull(err):
			c.Early = fmt.Sprintf("the disk is full, so %s not played", repeatsWere(left))
		case certain(d):
			c.Early = fmt.Sprintf("%s not played: whatever they show, the claim does not hold", repeatsWere(left))
		}
		if c.Early != "" {
			return nil
		}
	}
	return nil
}

func repeatsWere(n int) string {
	if n == 1 {
		return "1 further repeat was"
	}
	return fmt.Sprintf("%d further repeats were", n)
}

func certain(d decision.Decision) bool {
	for _, r := range d.Reasons {
		if r.Certain {
			return true
		}
	}
	return false
}

// take gathers the facts of a run from its folder, every file of which is held
// against its hash.
func (c *Certification) take(n int, run *Run, failed error) {
	bench, k := c.place(n)
	name := certRunName(bench.name, k)
	var m record.Meta
	var v judge.RunVerdict
	var bad error
	if run == nil {
		bad = failed
	} else {
		m, v, bad = sealedFacts(run)
	}
	f := decision.Facts(name, bench.name, m, v)
	if bad != nil {
		f.Damage = append(f.Damage, oneLine(bad))
	} else if failed != nil && m.State == record.Sealed { // it could not be compared
		f.Damage = append(f.Damage, oneLine(failed))
	}
	c.facts, c.metas = append(c.facts, f), append(c.metas, m)
}

// sealedFacts are what a run's own folder says of it. Those of a partial run are what
// there is.
func sealedFacts(run *Run) (m record.Meta, v judge.RunVerdict, err error) {
	rec, err := record.Open(run.Dir)
	if errors.Is(err, record.ErrPartial) {
		return rec.Meta, run.Verdict(), nil
	}
	if err != nil {
		return m, run.Verdict(), err
	}
	src, err := rec.ReadFile(record.VerdictsFile)
	if err == nil {
		err = json.Unmarshal(src, &v)
	}
	return rec.Meta, v, err
}

// Decide decides from the runs that were played so far.
func (c *Certification) Decide() decision.Decision {
	return decision.Decide(PolicyOf(c.Submission.House), ClaimOf(c.Submission), c.facts, c.runs.tree.Result())
}

// PolicyOf is a house's policy as it is decided by.
func PolicyOf(h *claim.House) decision.Policy {
	return decision.Policy{House: h.Name, Repeats: h.Repeats, Lockstep: h.Lockstep, Benches: h.Benches, Ties: h.Ties}
}

// ClaimOf is a submission as it is decided about.
func ClaimOf(s *claim.Submission) decision.Claim {
	out := decision.Claim{
		Claim: s.Claim.What, By: s.Claim.By, Category: s.Category, Own: s.Own, Frames: s.Claim.Frames,
		Program: s.Program.Hash(), Checkpoints: []string{}, Rate: decision.RateOf(s.Spec.Console.Rate),
	}
	for _, cp := range s.Spec.Checkpoints {
		out.Checkpoints = append(out.Checkpoints, cp.Name)
	}
	return out
}

// Report gathers what the runs showed and what was decided. Call it before Release.
func (c *Certification) Report(title string, d decision.Decision) (reports.Session, error) {
	s := c.Submission
	c.runs.Title = fmt.Sprintf("%s, by %s", s.Claim.What, s.Claim.By)
	out, err := Report(title, c.version, []*Case{c.runs})
	if err != nil {
		return out, err
	}
	spec := &out.Specs[0]
	spec.About = strings.TrimSpace(fmt.Sprintf("Claims %d frames in the category %s of %s. %s", s.Claim.Frames, s.Category, s.House.Name, spec.About))
	spec.Sentence = Sentence(d) + " " + spec.Sentence
	switch d.Code {
	case 0:
		spec.Verdict = Held
	case 1:
		spec.Verdict = NotHeld
	default:
		spec.Verdict = CannotTell
	}
	if c.Early != "" {
		spec.Warnings = append(spec.Warnings, c.Early)
	}
	for _, r := range d.Reasons {
		spec.Warnings = append(spec.Warnings, "refused: "+ReasonText(r))
	}
	return out, nil
}

// Sentence says in words what was decided.
func Sentence(d decision.Decision) string {
	switch {
	case d.Outcome == decision.Certified:
		return fmt.Sprintf("Certified: %d frames (%.3f s).", d.Measured.Frames, d.Measured.Seconds)
	case d.Code == 1:
		return "Refused: the claim does not hold."
	}
	return "Refused: whether the claim holds cannot be told."
}

// ReasonText is a reason in one line.
func ReasonText(r decision.Reason) string {
	if r.Run == "" {
		return r.Why
	}
	return r.Run + ": " + r.Why
}

// Release frees what the runs hold for the report.
func (c *Certification) Release() error { return c.runs.Release() }
