package record

import (
	"encoding/json"
	"time"

	"latchproof/harness/feeder"
	"latchproof/specs/console"
)

// FormatVersion is the version of the run folder that this package writes, and
// OldestFormat the oldest that it reads.
const (
	FormatVersion = 2
	OldestFormat  = 1
)

// The names of the files in a run folder.
const (
	RunFile      = "run.json"
	SpecFile     = "spec.yaml"
	ProgramFile  = "program.prog"
	CaptureFile  = "capture.mkv"
	FramesFile   = "frames.csv"
	ReadsFile    = "reads.csv"
	SyncsFile    = "syncs.csv"
	VerdictsFile = "verdicts.json"
	TraceFile    = "trace.lpt"
)

// State is how far the writing of a run came.
type State string

// The states of a run.
const (
	Playing State = "playing" // the writer is at work, or died
	Sealed  State = "sealed"  // whole; every file hashed
	Partial State = "partial" // stopped; Meta.Stopped says where and why
)

// Meta is run.json; doc.go says what each key means. The caller of Create
// leaves Format, State, Self, Files and Stopped to the writer, and the hashes
// of the two copies too.
type Meta struct {
	Format   int               `json:"format"`
	State    State             `json:"state"`
	Self     string            `json:"self"`
	Spec     SpecInfo          `json:"spec"`
	Program  ProgramInfo       `json:"program"`
	Console  Console           `json:"console"`
	Start    string            `json:"start"`
	Repeat   int               `json:"repeat"`
	Bench    json.RawMessage   `json:"bench,omitempty"`
	Board    *Board            `json:"board,omitempty"`
	Clock    json.RawMessage   `json:"clock,omitempty"`
	Capture  json.RawMessage   `json:"capture,omitempty"`
	Versions map[string]string `json:"versions,omitempty"`
	Started  time.Time         `json:"started"`
	Ended    *time.Time        `json:"ended,omitempty"`
	Files    map[string]Sum    `json:"files,omitempty"`
	// Dropped are the files that were removed on purpose; see Drop.
	Dropped map[string]Dropped `json:"dropped,omitempty"`
	Stopped *Stopped           `json:"stopped,omitempty"`
	Damage  []string           `json:"damage,omitempty"`
	// Underruns are the indexes of the latch pulses that the board served
	// without program data, and Notes what else happened that took no evidence.
	Underruns []int64  `json:"underruns,omitempty"`
	Notes     []string `json:"notes,omitempty"`
}

// SpecInfo names the spec that was played.
type SpecInfo struct {
	Name   string `json:"name"`
	File   string `json:"file"`             // path as the caller gave it
	SHA256 string `json:"sha256,omitempty"` // of the copy spec.yaml, set by Create
}

// ProgramInfo names the button program that was played.
type ProgramInfo struct {
	File   string `json:"file"`             // path as the caller gave it
	SHA256 string `json:"sha256,omitempty"` // of the copy program.prog, set by Create
	Hash   string `json:"hash"`             // program hash of the expanded stream
	Reads  int64  `json:"reads"`
}

// Sum is the hash and length of a file.
type Sum struct {
	SHA256 string `json:"sha256"` // lower-case hex
	Bytes  int64  `json:"bytes"`
}

// Stopped says where and why a partial run ends.
type Stopped struct {
	Where string `json:"where"`
	Why   string `json:"why"`
}

// Console is a console profile as run.json keeps it.
type Console struct {
	Name   string `json:"name"`
	About  string `json:"about,omitempty"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
	Rate   struct {
		Num int64 `json:"num"`
		Den int64 `json:"den"`
	} `json:"rate"`
	Derivation    string   `json:"derivation,omitempty"`
	Buttons       []string `json:"buttons"`
	Ports         int      `json:"ports"`
	ReadsPerFrame int      `json:"reads_per_frame"`
	BurstGapNS    int64    `json:"burst_gap_ns"`
	LatchActive   string   `json:"latch_active"`
}

// FromProfile turns a profile into what run.json keeps.
func FromProfile(p console.Profile) Console {
	c := Console{
		Name: p.Name, About: p.About, Width: p.Width, Height: p.Height,
		Derivation: p.Derivation, Buttons: p.Buttons, Ports: p.Ports,
		ReadsPerFrame: p.ReadsPerFrame, BurstGapNS: int64(p.BurstGap), LatchActive: p.LatchActive,
	}
	c.Rate.Num, c.Rate.Den = p.Rate.Num, p.Rate.Den
	return c
}

// Profile turns it back.
func (c Console) Profile() console.Profile {
	return console.Profile{
		Name: c.Name, About: c.About, Width: c.Width, Height: c.Height,
		Rate:       console.Rate{Num: c.Rate.Num, Den: c.Rate.Den},
		Derivation: c.Derivation, Buttons: c.Buttons, Ports: c.Ports,
		ReadsPerFrame: c.ReadsPerFrame, BurstGap: time.Duration(c.BurstGapNS), LatchActive: c.LatchActive,
	}
}

// Board is a feeder board's identity as run.json keeps it.
type Board struct {
	Protocol int    `json:"protocol"`
	Serial   string `json:"serial"`
	Board    string `json:"board"`
	Firmware string `json:"firmware"`
	Capacity int    `json:"capacity"`
	Ports    int    `json:"ports"`
}

// FromIdentity turns a board's identity into what run.json keeps.
func FromIdentity(id feeder.Identity) *Board {
	b := Board(id)
	return &b
}

// Result is what a whole run adds when it is sealed.
type Result struct {
	Ended  time.Time
	Clock  json.RawMessage // kept as it is; may be empty
	Damage []string        // added to the damage noted before
}

// FrameState is what a captured picture is.
type FrameState string

// The states of a captured picture.
const (
	Fresh   FrameState = "fresh"   // the first picture of its frame
	Repeat  FrameState = "repeat"  // shows a frame that an earlier picture showed
	Damaged FrameState = "damaged" // torn or broken
	Unsure  FrameState = "unsure"  // too close to a frame boundary to say
	Outside FrameState = "outside" // before frame 0 or after the end
)

// NoFrame stands for "no console frame" in a FrameRow.
const NoFrame console.Frame = -1

// FrameRow is one row of frames.csv.
type FrameRow struct {
	Index int64         // picture in the capture, from 0
	Stamp time.Duration // host clock; kept to the microsecond
	Frame console.Frame // or NoFrame
	State FrameState
}
