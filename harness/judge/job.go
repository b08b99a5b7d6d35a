package judge

import (
	"errors"
	"fmt"
	"image"

	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// job is one checkpoint while a run is watched.
type job struct {
	cp       specs.Checkpoint
	check    checks.Check
	watch    checks.Watch // of a kind that judges its range together; else nil
	every    bool         // all frames must hold
	from, to console.Frame
	bad      error // the frames could not be told in this run

	seen    int    // pictures that told whether it holds
	unsure  int    // pictures that did not
	away    int    // pictures that are not at hand and may have decided
	doubt   string // why the first of them did not
	decided bool   // nothing later can change the verdict
	res     Result
	sight   checks.Sight
	kept    *screen.Screen
}

// newJobs resolves the frames of every checkpoint of a spec in this run.
func newJobs(s *specs.Spec, c *clock.Clock) []*job {
	if s == nil {
		return nil
	}
	jobs := make([]*job, 0, len(s.Checkpoints))
	marks := s.Program.Marks()
	for _, cp := range s.Checkpoints {
		j := newJob(cp, cp.Check.(checks.Check))
		j.from, j.to, j.bad = cp.At.Frames(c.FrameOfRead, marks)
		j.res = Result{
			Name: cp.Name, Kind: cp.Kind, Verdict: Unseen,
			Frame: j.from, From: j.from, To: j.to,
			Describe: j.check.Describe(), Templates: j.check.Templates(),
		}
		jobs = append(jobs, j)
	}
	return jobs
}

func newJob(cp specs.Checkpoint, check checks.Check) *job {
	j := &job{cp: cp, check: check, every: cp.Every}
	if s, ok := check.(checks.Series); ok {
		j.watch, j.every = s.Begin(), s.Every()
	}
	return j
}

// lookNear judges a picture that is of frame f or of a neighbour of it, which
// cannot be told. Only `every` can use it, and only when all the frames that it
// may be of lie in the range: it must hold on each of them, and the picture is
// of one of them.
func (j *job) lookNear(f console.Frame, s *screen.Screen) error {
	if !j.every || f-1 < j.from || f+1 > j.to {
		return nil
	}
	return j.look(f, s)
}

// miss is look for a picture that is not at hand.
func (j *job) miss(f console.Frame) {
	switch {
	case j.bad != nil || f < j.from || f > j.to:
	case j.decided:
		j.seen++
	default:
		j.away++
	}
}

// missNear is lookNear for a picture that is not at hand.
func (j *job) missNear(f console.Frame) {
	if j.every && f-1 >= j.from && f+1 <= j.to {
		j.miss(f)
	}
}

// look judges one seen frame. The screen is only kept as a copy.
func (j *job) look(f console.Frame, s *screen.Screen) error {
	if j.bad != nil || f < j.from || f > j.to {
		return nil
	}
	if j.decided {
		j.seen++
		return nil
	}
	sight, err := j.sightOf(f, s)
	if err != nil {
		return fmt.Errorf("checkpoint %q at frame %d: %w", j.cp.Name, f, err)
	}
	if sight.Unsure {
		// As good as no picture, but worth showing when there is nothing else.
		if j.unsure++; j.unsure == 1 {
			j.doubt = fmt.Sprintf("frame %d: %s", f, sight.Why)
			if j.kept == nil {
				j.sight, j.res.Frame, j.kept = sight, f, s.Clone()
			}
		}
		return nil
	}
	j.seen++
	better := j.seen == 1 || (sight.Holds != j.sight.Holds && sight.Holds != j.every) ||
		(sight.Holds == j.sight.Holds && nearer(sight, j.sight))
	if better {
		j.sight, j.res.Frame = sight, f
		j.kept = s.Clone()
	}
	if sight.Holds != j.every {
		// One that holds settles "some frame"; one that does not, "every".
		j.decided = true
	}
	return nil
}

func (j *job) sightOf(f console.Frame, s *screen.Screen) (checks.Sight, error) {
	if j.watch != nil {
		return j.watch.Look(int64(f), s)
	}
	return j.check.Look(s)
}

// nearer says whether a is nearer to changing its answer than b.
func nearer(a, b checks.Sight) bool {
	return abs(a.Score-a.Threshold) < abs(b.Score-b.Threshold)
}

func abs(x float64) float64 { return max(x, -x) }

// settle gives the verdict when the whole run has been watched.
func (j *job) settle(c *clock.Clock) Result {
	r := j.res
	if c.State != clock.Measured {
		r.Clock = string(c.State)
	}
	switch {
	case c.State == clock.Untrusted:
		r.Why = "the frame clock is not trusted: " + c.Why
		return r
	case j.bad != nil:
		r.Why = unplaced(j.cp.At, j.bad)
		return r
	}
	want := int(j.to-j.from) + 1
	if !j.decided || j.watch != nil && !j.every {
		r.Away = j.away
	}
	r.Missed = want - j.seen - j.away
	r.Unsure = j.unsure
	if r.Away > 0 && j.seen+j.unsure == 0 {
		r.Why = "no picture of " + frames(j.from, j.to) + " is at hand"
		return r
	}
	if j.seen+j.unsure == 0 {
		r.Why = "no picture of " + frames(j.from, j.to) + unseenWhy(c, j.from, want)
		return r
	}
	score := j.sight.Score
	r.Score, r.Threshold, r.Seen = &score, j.sight.Threshold, j.kept
	r.ThresholdBy, r.Noise = j.sight.By, j.sight.Noise
	if j.seen == 0 {
		r.place(j.sight)
		r.Why = j.sight.Why
		if want > 1 {
			r.Why = fmt.Sprintf("none of the %d pictures of %s tells; the first: %s", j.unsure, frames(j.from, j.to), r.Why)
		}
		return r
	}
	if !j.sight.Holds && j.watch == nil {
		if sight, err := j.check.Explain(j.kept); err == nil {
			j.sight = sight
		}
	}
	r.place(j.sight)
	r.Value = j.sight.Value
	if r.Value == nil && j.sight.Seen != "" {
		r.Value = j.sight.Seen
	}
	r.Why = j.sight.Why
	every := j.every
	switch {
	case j.sight.Holds && !every:
		r.Verdict = Pass
	case !j.sight.Holds && every:
		r.Verdict = Fail
	case !j.sight.Holds: // none of the seen frames holds
		r.Verdict = Fail
		if r.Missed > 0 {
			r.Verdict = Unseen
			r.Why = fmt.Sprintf("it holds in no picture of %s, and %d of these %d frames had none%s; nearest: %s", frames(j.from, j.to), r.Missed, want, j.doubts(), r.Why)
		}
	default: // all seen frames hold
		r.Verdict = Pass
		r.Why = fmt.Sprintf("holds in every picture of %s, %d of these %d frames had none%s; nearest to failing: %s", frames(j.from, j.to), r.Missed, want, j.doubts(), r.Why)
		if r.Missed > j.cp.Unseen {
			r.Verdict = Unseen
			r.Why = fmt.Sprintf("it holds in every picture of %s, but %d of these %d frames had none%s, and at most %d may be unseen", frames(j.from, j.to), r.Missed, want, j.doubts(), j.cp.Unseen)
		}
	}
	if r.Away > 0 && r.Missed <= j.cp.Unseen {
		// What is not at hand may change it; one unseen too many stays so.
		r.Held = r.Verdict == Pass
		r.Verdict = Unseen
		r.Why = fmt.Sprintf("%d pictures of %s are not at hand; those that are: %s", r.Away, frames(j.from, j.to), r.Why)
	}
	return r
}

// place sets what a picture shows where.
func (r *Result) place(s checks.Sight) {
	if s.Size != (image.Point{}) {
		r.At = &Point{s.At.X, s.At.Y}
		r.Box = image.Rectangle{Min: s.At, Max: s.At.Add(s.Size)}
	}
}

// doubts says how many of the pictures did not tell.
func (j *job) doubts() string {
	if j.unsure == 0 {
		return ""
	}
	return fmt.Sprintf(" that tells (%d did not: %s)", j.unsure, j.doubt)
}

func frames(from, to console.Frame) string {
	if from == to {
		return fmt.Sprintf("frame %d", from)
	}
	return fmt.Sprintf("frames %d to %d", from, to)
}

func unplaced(at specs.When, err error) string {
	if errors.Is(err, specs.ErrNoRead) {
		return fmt.Sprintf("`%s` has no frame in this run: %v", at, err)
	}
	return fmt.Sprintf("`%s` cannot be placed in this run: %v", at, err)
}

// unseenWhy says why a single frame has no picture.
func unseenWhy(c *clock.Clock, f console.Frame, n int) string {
	if n > 1 {
		return ""
	}
	switch c.FrameState(f) {
	case clock.Undecided:
		return ": the picture that may be of it was taken too near to a frame boundary to be told from its neighbour"
	case clock.OutOfRange:
		_, last, _ := c.Frames()
		return fmt.Sprintf(": the run's last frame is %d", last)
	case clock.Seen:
		return ": the card delivered an old picture in its place"
	}
	return ": the card took none while it was shown"
}
