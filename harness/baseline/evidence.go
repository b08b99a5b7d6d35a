package baseline

// Life is how long a run stayed in lockstep with the baseline's reference.
type Life struct {
	Frame float64 // where it parted, or the last frame on which both were seen to agree
	// Parted: the pictures part there. Cut: they do not, as far as is known, but it
	// is not known to the end of the reference; never together with Parted.
	Parted, Cut bool
}

// Side is what was seen of a spec on one bench. All of it are plain numbers, so
// that the rules of Judge can be tried on made-up ones.
type Side struct {
	// Lives are those of the runs that could be compared with the reference, which
	// has none itself; Left is how many runs there were of which nothing can be
	// told.
	Lives []Life
	Left  int64
	// Numbers of every run that could be compared, the reference's first.
	Numbers []Numbers
	// Runs by their checkpoints, the reference among them: every one passed; one
	// failed; none failed and one is unseen. All zero when the spec has none.
	Held, Failed, Unseen int64
}

// Evidence is what was seen of one spec on both benches.
type Evidence struct {
	Name                string
	Baseline, Candidate Side
}

// Options say what is asked. Use DefaultOptions.
type Options struct {
	// Alpha is the chance, at most, that anything is called worse when nothing
	// has changed; 0 < Alpha < 0.5.
	Alpha float64
	// Margin is how much higher a rate of troubled runs may be and still be no
	// worse, a difference of rates; 0 < Margin < 1.
	Margin float64
	// A time is no worse up to the baseline's multiplied by Times; a service
	// latency up to that and PlusUS microseconds more.
	Times, PlusUS float64
}

// DefaultOptions are 5 % and 10 %, and for times a quarter and one microsecond
// more. Common practice, no source.
func DefaultOptions() Options { return Options{Alpha: 0.05, Margin: 0.10, Times: 1.25, PlusUS: 1} }

// Verdict is what is said of a row, a spec or all of them.
type Verdict string

// The verdicts.
const (
	Worse      Verdict = "worse"
	NoWorse    Verdict = "no worse"
	CannotTell Verdict = "cannot tell"
)

// MostNeeded is how many further runs are asked for at most.
const MostNeeded = 10_000

// Need is how many further runs would make a verdict of CannotTell one of
// NoWorse: if the candidate's all stay in step and hold, and if times stay as
// they are. Beyond says that more than MostNeeded would not. It is zero with any
// other verdict.
type Need struct {
	Candidate int64 `json:"candidate"`
	Baseline  int64 `json:"baseline"`
	Beyond    bool  `json:"beyond,omitempty"`
}

func (n Need) worst(o Need) Need {
	return Need{max(n.Candidate, o.Candidate), max(n.Baseline, o.Baseline), n.Beyond || o.Beyond}
}

// The rows: what is asked of a spec.
const (
	RowLockstep    = "lockstep"       // runs that part from the reference
	RowSurvival    = "survival"       // and how early
	RowJitter      = "read jitter"    // RMS about the frame grid
	RowService     = "service median" // latency of the first bit, median of a run
	RowWorst       = "service worst"  // and worst of a run
	RowClocks      = "odd clocks"     // runs with clock pulses too many or too few
	RowUnderruns   = "underruns"      // runs with an underrun
	RowLate        = "late serves"    // runs with a read that was served late
	RowReads       = "reads"          // runs whose reads lie otherwise than the reference's
	RowCheckpoints = "checkpoints"    // runs with a failed checkpoint
)

// Row is one thing that was asked of a spec.
type Row struct {
	What string `json:"what"` // one of the Row constants
	// Baseline and Candidate are what was seen, in words.
	Baseline  string `json:"baseline"`
	Candidate string `json:"candidate"`
	// P is the chance of a candidate so bad or worse when nothing has changed.
	// Tested says whether it is among the tests that are corrected for; when it is
	// not, it could not have come out, whatever was seen. Adjusted is P by Holm's
	// correction over all tests of all specs, 1 when it is not among them.
	P        float64 `json:"p"`
	Tested   bool    `json:"tested"`
	Adjusted float64 `json:"p_adjusted"`
	// Limit is the upper limit of the difference of rates that Margin is held
	// against; for times it is the chance, by the opposite test, of times so good
	// when they are beyond their margin. Nil for survival.
	Limit   *float64 `json:"limit,omitempty"`
	Verdict Verdict  `json:"verdict"`
	Need    Need     `json:"needed"`
}

// SpecVerdict is what is said of one spec.
type SpecVerdict struct {
	Name    string   `json:"name"`
	Verdict Verdict  `json:"verdict"`
	Need    Need     `json:"needed"`
	Rows    []Row    `json:"rows"`
	Notes   []string `json:"notes,omitempty"` // what could not be asked
}

// Verdicts is what Judge says.
type Verdicts struct {
	Verdict Verdict       `json:"verdict"`
	Need    Need          `json:"needed"`
	Alpha   float64       `json:"alpha"`
	Margin  float64       `json:"margin"`
	Tests   int           `json:"tests"` // that were corrected for
	Specs   []SpecVerdict `json:"specs"`
}
