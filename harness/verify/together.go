package verify

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"latchproof/harness"
	"latchproof/harness/decision"
	"latchproof/harness/lockstep"
)

// steps of a run as it is compared.
func (v *verifier) stepsOf(r *run) lockstep.Run {
	return lockstep.Run{
		Name: r.name, Trace: r.trace, Reads: r.judged.Reads, LastFrame: r.judged.Last, Program: v.claim.Program.Hash(),
	}
}

// together compares the runs, decides anew, and holds the certificate against it.
func (v *verifier) together() error {
	v.begin("lockstep", "")
	steps, err := v.lockstep()
	found := ""
	if err == nil {
		found = fmt.Sprintf("%d of %d runs, over %d frames", len(steps.Families[0].Runs), len(v.runs), steps.Frames)
	}
	if !v.r.check("lockstep", "", err, found) {
		v.skip("decision", "certificate")
		return nil
	}
	v.begin("decision", "")
	d, err := v.decide(steps)
	if !v.r.check("decision", "", err, "") {
		v.skip("certificate")
		return nil
	}
	v.begin("certificate", "")
	v.r.check("certificate", "", v.certificate(d), "")
	if v.o.Book != nil {
		v.begin("standing", "")
		found, err := v.standing(d)
		v.r.check("standing", "", err, found)
	}
	if v.o.Replay != nil {
		v.begin("replay", "")
		state, why := v.replay(d)
		v.r.add("replay", "", state, why)
	}
	return v.ctx.Err()
}

// order is the order in which the runs were played, as decision.json tells it: it
// only names them, and the names are held against the bundle's.
func (v *verifier) order() ([]*run, error) {
	src, err := v.b.ReadFile(decisionFile, mostDecision)
	if err != nil {
		return nil, err
	}
	var told struct {
		Runs []struct {
			Name string `json:"name"`
		} `json:"runs"`
	}
	if err := json.Unmarshal(src, &told); err != nil {
		return nil, broken("%s: %v", decisionFile, err)
	}
	var out []*run
	for _, t := range told.Runs {
		i := slices.IndexFunc(v.runs, func(r *run) bool { return r.name == t.Name })
		if i < 0 || slices.Contains(out, v.runs[i]) {
			return nil, broken("%s names the run %q, which is not there, or is named twice", decisionFile, t.Name)
		}
		out = append(out, v.runs[i])
	}
	if len(out) != len(v.runs) {
		return nil, broken("%s names %d runs, and there are %d", decisionFile, len(out), len(v.runs))
	}
	return out, nil
}

func (v *verifier) lockstep() (lockstep.Result, error) {
	order, err := v.order()
	if err != nil {
		return lockstep.Result{}, err
	}
	v.runs = order
	tree := lockstep.NewTree(harness.Naming(v.claim.Spec.Console, v.claim.Program))
	for _, r := range order {
		if err := v.ctx.Err(); err != nil {
			return lockstep.Result{}, err
		}
		if err := tree.Add(v.stepsOf(r)); err != nil {
			return lockstep.Result{}, plainly(fmt.Errorf("%s: %w", r.name, err))
		}
	}
	return tree.Result(), nil
}

// decide decides anew, and holds decision.json against it.
func (v *verifier) decide(steps lockstep.Result) (*decision.Decision, error) {
	facts := make([]decision.RunFacts, len(v.runs))
	for i, r := range v.runs {
		facts[i] = decision.Facts(r.name, r.bench, r.rec.Meta, r.found)
	}
	d := decision.Decide(harness.PolicyOf(v.claim.House), harness.ClaimOf(v.claim.Submission), facts, steps)
	if d.Outcome != decision.Certified {
		why := make([]string, 0, len(d.Reasons))
		for _, x := range d.Reasons {
			why = append(why, harness.ReasonText(x))
		}
		return nil, broken("by this evidence it is refused: %s", strings.Join(why, "; "))
	}
	want, err := d.JSON()
	if err != nil {
		return nil, err
	}
	src, err := v.b.ReadFile(decisionFile, mostDecision)
	if err != nil {
		return nil, err
	}
	if bytes.Equal(src, want) {
		return &d, nil
	}
	var told any
	if err := json.Unmarshal(src, &told); err != nil {
		return nil, broken("%s: %v", decisionFile, err)
	}
	if at := differ(told, d); at != "" {
		return nil, broken("%s is not what follows: %s", decisionFile, at)
	}
	return nil, broken("%s says what follows in other bytes", decisionFile)
}

// standing looks for the certificate in the book.
func (v *verifier) standing(d *decision.Decision) (string, error) {
	src, err := v.b.ReadFile(certificateFile, 1<<30)
	if err != nil {
		return "", err
	}
	b := v.o.Book
	at, ok := b.Find(src)
	if !ok {
		return "", broken("the book has no entry of this certificate")
	}
	before := b.Best(d.Claim.Category, at)
	want := decision.First
	if before != nil {
		want = decision.Stand(d.Measured.Frames, &decision.Before{Frames: before.States.Measured.Frames})
	}
	p := v.cert.Predicate
	if p.Standing != string(want) {
		return "", broken("the certificate says %s, and by the book it was %s", p.Standing, want)
	}
	if at := differ(p.Before, before.Before()); at != "" {
		return "", broken("the best before is not that of the book: %s", at)
	}
	found := fmt.Sprintf("entry %d, %s", at, want)
	if best := b.Best(d.Claim.Category, b.Len()); best != nil && best.Index != at {
		found += fmt.Sprintf("; the best of the category is entry %d with %d frames", best.Index, best.States.Measured.Frames)
	}
	return found, nil
}
