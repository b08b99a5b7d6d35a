package lockstep

import (
	"errors"
	"image"
	"io"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Sight says whether a capture has a picture of a frame.
type Sight uint8

// What a capture knows of a frame.
const (
	Unseen Sight = iota // no picture of it; the zero value
	Unsure              // a picture that may be of this frame or its neighbour
	Seen                // a picture of it
)

// Picture is what a trace holds of one console frame. Features is empty unless
// Sight is Seen or Unsure, and is only valid until the cursor moves on.
type Picture struct {
	Frame    console.Frame
	Sight    Sight
	Features Features
}

// Trace is the screens of a run in short, one Picture for every console frame
// from 0. It may be opened several times, also at once.
type Trace interface {
	Layout() Layout
	Len() console.Frame // number of frames
	Open() (Cursor, error)
}

// Cursor walks a trace.
type Cursor interface {
	// Next gives the next frame; io.EOF after the last.
	Next(*Picture) error
	// Seek makes Next give that frame next; past the end Next gives io.EOF.
	Seek(console.Frame) error
	io.Closer
}

// ReadInfo is one controller read of a run.
type ReadInfo struct {
	Read    program.Read  // number of the read, from 0
	Frame   console.Frame // the frame it fell in
	State   program.State // what the board served
	Pulses  int           // latch pulses of this read
	Clocks  uint8         // clock pulses on port 1 after all its latch pulses together, at most 255
	Clocks2 uint8         // the same on port 2
	// Underrun: the board had no program data and served something else.
	Underrun bool
}

// Run is one run to compare.
type Run struct {
	Name  string // as it is called in reports, for example "repeat 3"
	Trace Trace
	Reads []ReadInfo // in order; empty when there is no read log
	// LastFrame is the last frame that the run covers, whether seen or not.
	LastFrame console.Frame
	// EndedEarly: the run is known to have stopped before its end; EndWhy says
	// why, as a plain phrase ("the cable was unplugged").
	EndedEarly bool
	EndWhy     string
	// EndPart is the part of the bench that ended the run early; empty when
	// that is not known.
	EndPart Part
	// Program tells button programs apart, for example by their hash; empty
	// when unknown.
	Program string
}

// Kind is what kind of divergence, or of suspect, it is.
type Kind string

// The kinds of divergence, and the one of a suspect.
const (
	KindInput   Kind = "input"   // the read logs differ first
	KindPicture Kind = "picture" // same reads, different picture
	KindShift   Kind = "shift"   // the same pictures some frames later or earlier
	KindEnd     Kind = "end"     // one run stops early
	// KindFlicker is a difference that later frames do not confirm: a Suspect,
	// never a Divergence.
	KindFlicker Kind = "flicker"
)

// Part is the part of the bench that the evidence of a divergence points to.
type Part string

// The parts; Why says what speaks for it.
const (
	PartBoard   Part = "board"   // the board or its wiring
	PartConsole Part = "console" // the console's own state or timing
	PartCard    Part = "card"    // the capture card
	PartProgram Part = "program" // the button programs differ
	PartUnknown Part = "unknown"
)

// Divergence is where two runs part.
type Divergence struct {
	// Frame is the first frame seen by both that differs; for kind end the
	// first frame that only one run has.
	Frame console.Frame
	// Since is the first frame that may differ: it is before Frame when the
	// frames between were not seen by both.
	Since console.Frame
	// Read is, for kind input, the first read that differs; otherwise the last
	// read at or before Frame; -1 when there is none.
	Read program.Read
	Kind Kind
	// Shift is, for kind shift, by how many frames B is later than A, negative
	// when it is earlier, -120..120; 0 for the other kinds.
	Shift int
	// Stays: the shift lasts as far as both runs reach.
	Stays bool
	// Clocks: the runs agree on no moving picture before Frame unless they are
	// shifted. With kind shift it means that the frame clocks contradict one
	// another, and it cannot be told whether the runs part.
	Clocks bool
	// Part is what the evidence points to.
	Part Part
	// Region bounds the blocks that differ at Frame, on the raster, pixels;
	// empty for kind end.
	Region image.Rectangle
	// A is the run compared with, B the run that parts from it.
	A, B string
	Why  string // a plain sentence
	// Score is how far the worst block at Frame is beyond the noise, in
	// multiples of the threshold; 0 for kind end.
	Score float64
}

// Suspect is a difference that later frames did not confirm: it is counted,
// not taken for divergence.
type Suspect struct {
	Kind   Kind // KindFlicker
	Frame  console.Frame
	Region image.Rectangle
	A, B   string
	Score  float64 // worst block, in multiples of the threshold
}

// Report is the result of comparing two runs.
type Report struct {
	Frames     int64 // console frames that either run covers
	Compared   int64 // frames that both saw
	Unseen     int64 // frames that a run did not see, or not for sure
	Divergence *Divergence
	// Last is the last frame on which the runs were seen to agree, up to the
	// divergence; where a card shows nothing to the end, the frame before that.
	// -1 when there is none.
	Last     console.Frame
	Suspects []Suspect
	Warnings []string // plain sentences
	Noise    Noise
}

// Lockstep says whether the runs stayed together on every frame compared.
func (r Report) Lockstep() bool { return r.Divergence == nil }

// ErrLayout: two runs have different rasters.
var ErrLayout = errors.New("rasters differ")

// ErrTrace: a trace file is damaged, cut off or of an unknown version. The
// error is a *TraceError.
var ErrTrace = errors.New("trace is damaged")

// ErrUnseen: there is no frame that both runs saw, so nothing can be said.
var ErrUnseen = errors.New("no frame was seen by both runs")
