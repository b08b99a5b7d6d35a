package specs

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"sort"
	"time"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Version is the version of the format that this package reads.
const Version = 1

// Margin is how many reads the default tail goes on after the last read that a
// checkpoint needs: about a second, so that the last frame has an end and a
// late capture card still delivers it.
const Margin = 60

// Limits of values.
const (
	MaxRepeats     = 10_000
	MaxTail        = MaxFrame
	MaxCheckpoints = 1_000
	MaxLabels      = 32
	MaxPoints      = 100
	MaxReads       = 864_000
)

// How a run starts.
const (
	StartReset = "reset" // pulse the reset line
	StartPower = "power" // cut and restore power
)

// Spec is a spec file. Program, ProgramSource and Console are set by Load only.
type Spec struct {
	File, Dir   string // the file as it was named, and its folder
	Name, About string
	ProgramFile string // relative to Dir
	ConsoleName string // a built-in profile, or a file relative to Dir
	Program     *program.Program
	// ProgramSource is the text of the program as it was read.
	ProgramSource []byte
	Console       console.Profile
	Source        []byte
	Start         string // StartReset or StartPower
	Repeats       int
	Timeout       time.Duration // of one run; 0: none given
	MaxReads      int64         // the most reads the program may hold
	Labels        []string
	Tail          int // reads logged after the program's end; -1 from Parse when none is given
	Anchor        *Anchor
	Checkpoints   []Checkpoint
	Points        []Point // in the order of the file
	Timing        *Timing // nil: none asked for
	Lockstep      Lockstep

	lockstepGiven bool
	at            map[string]Pos // where the keys stand
}

// Anchor ties the capture to the frame count: the frame in which Check first
// holds.
type Anchor struct {
	Frame console.Frame
	Kind  string
	Check any
}

// Checkpoint is one thing the screen must show.
type Checkpoint struct {
	Name   string
	At     When
	Every  bool   // in all frames of the range; otherwise in some frame of it
	Series bool   // its kind judges the range together
	Unseen int    // with Every or Series: how many frames of the range may lack a picture
	Kind   string // key of the kind
	Check  any    // made by the kind
	Line   int    // where it stands in the spec

	pos, atPos Pos
}

// Point is a named point of a template.
type Point struct {
	Name string
	Of   any // made by the kind that reads points
	Line int

	pos Pos
}

// Lockstep is how many of the repeats must stay in lockstep.
type Lockstep struct{ Required int }

// SetRepeats changes the number of repeats. When the spec does not say how
// many must stay in lockstep, all of them must. It is an error when fewer than
// 1, more than MaxRepeats, or fewer than the spec requires in lockstep.
func (s *Spec) SetRepeats(n int) error {
	if n < 1 || n > MaxRepeats {
		return fmt.Errorf("%d repeats is not from 1 to %d", n, MaxRepeats)
	}
	if s.lockstepGiven && s.Lockstep.Required > n {
		return fmt.Errorf("%d repeats are fewer than the %d that %s requires in lockstep", n, s.Lockstep.Required, s.at["lockstep"])
	}
	s.Repeats = n
	if !s.lockstepGiven {
		s.Lockstep.Required = n
	}
	return nil
}

// LastRead is the highest read number that the anchor and the checkpoints
// need in the log, or -1 when they need none. The frame F is counted as made
// of the profile's reads per frame from frame 0 on; lag frames only make it
// come at a lower read number, so the answer is on the safe side.
func (s *Spec) LastRead() int64 {
	last := int64(-1)
	per := int64(max(s.Console.ReadsPerFrame, 1))
	var marks []program.Mark
	if s.Program != nil {
		marks = s.Program.Marks()
	}
	if s.Anchor != nil {
		last = max(last, Moment{Offset: int64(s.Anchor.Frame)}.lastRead(marks, per))
	}
	for _, c := range s.Checkpoints {
		last = max(last, c.At.From.lastRead(marks, per), c.At.To.lastRead(marks, per))
	}
	for _, m := range s.Timing.moments() {
		last = max(last, m.lastRead(marks, per))
	}
	return last
}

// LastFrame is the highest frame that the anchor and the checkpoints look at
// when the game reads in every frame, or -1 when there is none.
func (s *Spec) LastFrame() console.Frame {
	last := s.LastRead()
	if last < 0 {
		return -1
	}
	return console.Frame(last / int64(max(s.Console.ReadsPerFrame, 1)))
}

// CoverTail is how many reads the board must log after the program's end so
// that every checkpoint's frame has its read, counted as LastRead does.
func (s *Spec) CoverTail() int64 {
	if s.Program == nil {
		return 0
	}
	return max(0, s.LastRead()+1-s.Program.Reads())
}

// Pos is where a key of the spec's first level stands, for those that other
// packages speak of: spec, program, console, tail, checkpoints and timing. It is the file's
// beginning for a key that is not there.
func (s *Spec) Pos(key string) Pos {
	if at, ok := s.at[key]; ok {
		return at
	}
	return Pos{File: s.File, Line: 1, Col: 1, Key: key}
}

// Hash is the lower-case hex SHA-256 of the spec file's bytes.
func (s *Spec) Hash() string {
	h := sha256.Sum256(s.Source)
	return hex.EncodeToString(h[:])
}

// Checks are the points, and the checks of the anchor, the checkpoints and the
// timing.
func (s *Spec) Checks() []any {
	var all []any
	for _, p := range s.Points {
		all = append(all, p.Of)
	}
	if s.Anchor != nil && s.Anchor.Check != nil {
		all = append(all, s.Anchor.Check)
	}
	for _, c := range s.Checkpoints {
		if c.Check != nil {
			all = append(all, c.Check)
		}
	}
	if s.Timing != nil {
		for _, e := range []Event{s.Timing.From, s.Timing.To} {
			if e.Check != nil {
				all = append(all, e.Check)
			}
		}
	}
	return all
}

// Files are the files the spec is made of besides itself, relative to Dir, in
// alphabetical order: the program, the console profile unless built in, and
// what the checks name by a method `Templates() []string`.
func (s *Spec) Files() []string {
	names := map[string]bool{}
	if s.ProgramFile != "" {
		names[s.ProgramFile] = true
	}
	if _, builtin := console.Builtin(s.ConsoleName); !builtin && s.ConsoleName != "" {
		names[s.ConsoleName] = true
	}
	for _, c := range s.Checks() {
		if t, ok := c.(interface{ Templates() []string }); ok {
			for _, n := range t.Templates() {
				names[n] = true
			}
		}
	}
	all := make([]string, 0, len(names))
	for n := range names {
		all = append(all, n)
	}
	sort.Strings(all)
	return all
}

// clampTail is a tail as an int within the limit.
func clampTail(n int64) int { return int(min(n, MaxTail, math.MaxInt32)) }
