package live

import (
	"fmt"
	"math"

	"latchproof/harness/checks"
	"latchproof/harness/judge"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// task is one checkpoint while the run goes on. Its rules are those of package
// judge.
type task struct {
	cp       specs.Checkpoint
	check    checks.Check
	watch    checks.Watch // of a check that judges the range together
	every    bool
	from, to console.Frame
	placed   bool // the first of its frames is known
	told     bool

	seen  int
	sight checks.Sight // nearest to changing the answer
	any   bool
	frame console.Frame
}

func newTask(cp specs.Checkpoint) *task {
	t := &task{cp: cp, check: cp.Check.(checks.Check), every: cp.Every}
	if s, ok := t.check.(checks.Series); ok {
		t.watch, t.every = s.Begin(), s.Every()
	}
	return t
}

// place finds the frames of the checkpoint, each end when the reads that it needs
// have come: the range is open until its end is known. One that has no frames in
// this run is told when that is over.
func (t *task) place(read func(program.Read) (console.Frame, bool), marks []program.Mark) {
	if !t.placed {
		from, err := t.cp.At.From.Frame(read, marks)
		if err != nil {
			return
		}
		t.from, t.to, t.placed = from, open, true
	}
	if t.to == open {
		if _, to, err := t.cp.At.Frames(read, marks); err == nil {
			t.to = to
		}
	}
}

// open is the end of a range whose end is not known.
const open = console.Frame(math.MaxInt64)

// look judges a picture of a frame of the range; true when nothing later can
// change the verdict.
func (t *task) look(f console.Frame, s *screen.Screen) (fell bool, err error) {
	var sight checks.Sight
	if t.watch != nil {
		sight, err = t.watch.Look(int64(f), s)
	} else {
		sight, err = t.check.Look(s)
	}
	if err != nil {
		return false, fmt.Errorf("checkpoint %q at frame %d: %w", t.cp.Name, f, err)
	}
	if sight.Unsure {
		return false, nil
	}
	t.seen++
	if !t.any || sight.Holds != t.sight.Holds && sight.Holds != t.every ||
		sight.Holds == t.sight.Holds && far(sight) < far(t.sight) {
		t.sight, t.frame = sight, f
	}
	t.any = true
	// One that holds settles "some frame"; one that does not, "every".
	return sight.Holds != t.every, nil
}

func far(s checks.Sight) float64 { return max(s.Score-s.Threshold, s.Threshold-s.Score) }

// settle is the verdict by what was seen; over says that no more will be.
func (t *task) settle(over bool) Finding {
	f := Finding{Name: t.cp.Name, Kind: t.cp.Kind, Verdict: judge.Unseen, Frame: t.from}
	if !t.placed {
		f.Why = fmt.Sprintf("`%s` has no frame so far", t.cp.At)
		return f
	}
	decided := t.any && t.sight.Holds != t.every // whatever the range's end is
	if t.to == open && !decided {
		f.Why = fmt.Sprintf("the end of `%s` has no frame so far", t.cp.At)
		return f
	}
	want := int(t.to-t.from) + 1
	missed := want - t.seen
	if !t.any {
		f.Why = fmt.Sprintf("no picture of %s could be judged while the run went on", span(t.from, t.to))
		return f
	}
	score := t.sight.Score
	f.Frame, f.Score, f.Why = t.frame, &score, t.sight.Why
	switch {
	case decided && t.sight.Holds:
		f.Verdict = judge.Pass
	case decided:
		f.Verdict = judge.Fail
	case t.sight.Holds: // every frame that was seen holds
		if missed <= t.cp.Unseen {
			f.Verdict = judge.Pass
		} else {
			f.Why = fmt.Sprintf("%d of %d frames had no picture, and at most %d may be unseen", missed, want, t.cp.Unseen)
		}
	case missed <= 0 && over:
		f.Verdict = judge.Fail
	default:
		f.Why = fmt.Sprintf("%d of %d frames had no picture; nearest: %s", missed, want, f.Why)
	}
	return f
}

func span(from, to console.Frame) string {
	if from == to {
		return fmt.Sprintf("frame %d", from)
	}
	return fmt.Sprintf("frames %d to %d", from, to)
}
