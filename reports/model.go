package reports

import "time"

// Session is everything that one report shows: the specs played or judged
// together. It is plain data; all of its text is untrusted and is escaped
// where it is written.
type Session struct {
	Title   string    `json:"title"`
	Made    time.Time `json:"made"`
	Version string    `json:"version"` // of this program
	Bench   Bench     `json:"bench"`
	Specs   []Spec    `json:"specs"`
	// Soak and Baseline are there when the session was one.
	Soak     *Soak     `json:"soak,omitempty"`
	Baseline *Baseline `json:"baseline,omitempty"`
}

// Bench names the parts that the session ran on.
type Bench struct {
	Name    string `json:"name"`
	Console string `json:"console"`
	Feeder  string `json:"feeder"`
	Card    string `json:"card"`
	// Parts of Console and Feeder by themselves, for an index over many sessions.
	ConsoleSerial  string  `json:"console_serial,omitempty"`
	FeederRevision string  `json:"feeder_revision,omitempty"`
	FeederFirmware string  `json:"feeder_firmware,omitempty"`
	FeederSerial   string  `json:"feeder_serial,omitempty"`
	Simulated      bool    `json:"simulated"`
	Latency        string  `json:"latency"`
	RateHz         float64 `json:"capture_rate_hz"`
}

// Spec is one spec with its repeats.
type Spec struct {
	Name        string `json:"name"`
	About       string `json:"about"`
	File        string `json:"file"`
	ProgramFile string `json:"program_file"`
	ProgramHash string `json:"program_hash"`
	Reads       int64  `json:"reads"`
	Console     string `json:"console"`
	// Verdict is "held", "not held" or "cannot tell".
	Verdict string `json:"verdict"`
	// Sentence answers the question in words a maker understands.
	Sentence string `json:"sentence"`
	// Note says, for a demonstration, what is meant to happen: that a
	// divergence is meant to be here, or that all is meant to hold.
	Note        string       `json:"note,omitempty"`
	Lockstep    Lockstep     `json:"lockstep"`
	Repeats     []Repeat     `json:"repeats"`
	Checkpoints []Checkpoint `json:"checkpoints"`
	Timings     []Timing     `json:"timings,omitempty"` // one for each repeat, when the spec asks for a timing
	Divergences []Divergence `json:"divergences"`       // one per family split, earliest first
	Suspects    []Suspect    `json:"suspects,omitempty"`
	ReadTiming  []ReadTiming `json:"read_timing,omitempty"` // one for each repeat
	Flash       *Flash       `json:"flash,omitempty"`
	Warnings    []string     `json:"warnings,omitempty"`
}

// Lockstep says how deterministic the repeats were.
type Lockstep struct {
	InStep   int       `json:"in_step"` // repeats in lockstep with the first, itself included
	Repeats  int       `json:"repeats"` // repeats that could be compared
	Required int       `json:"required"`
	Held     bool      `json:"held"`
	Low      float64   `json:"low"`    // Clopper-Pearson 95 % limits of the rate that a
	High     float64   `json:"high"`   // further repeat stays in lockstep with the first
	Frames   int64     `json:"frames"` // that the longest repeat covers
	Unseen   int64     `json:"unseen"` // frames not compared with the first repeat, for one of the two did not see them; summed over the repeats
	Families []Family  `json:"families"`
	Survival *Survival `json:"survival,omitempty"`
}

// Family is a set of repeats that stayed in lockstep with one another.
type Family struct {
	Repeats []string `json:"repeats"`
	From    int64    `json:"from"`   // frame at which it parted; 0 for the first family
	Parent  int      `json:"parent"` // index of the family that it parted from, -1 for the first
	Kind    string   `json:"kind,omitempty"`
	Why     string   `json:"why,omitempty"`
	More    int64    `json:"more,omitempty"` // repeats of it that are not named
}

// Repeat is one run.
type Repeat struct {
	Name       string   `json:"name"`
	Folder     string   `json:"folder"`
	Verdict    string   `json:"verdict"` // pass, fail, unseen
	Family     int      `json:"family"`  // index into Lockstep.Families, -1 when it could not be compared
	State      string   `json:"state"`   // sealed or partial
	Clock      string   `json:"clock"`   // measured, assumed, untrusted
	ClockWhy   string   `json:"clock_why"`
	PPM        float64  `json:"ppm"`       // frame rate against nominal
	JitterUS   float64  `json:"jitter_us"` // of the reads, RMS
	Frames     int64    `json:"frames"`
	Reads      int64    `json:"reads"`
	LagFrames  int      `json:"lag_frames"`
	Pictures   int      `json:"pictures"`
	Unseen     int      `json:"unseen"`
	CardRepeat int      `json:"card_repeats"`
	Unsure     int      `json:"unsure"`
	Seconds    float64  `json:"seconds"`
	Problems   []string `json:"problems,omitempty"`
	// UnseenFrames are the frames of the run that have no picture, for the
	// rows of the frame axis.
	UnseenFrames []int64 `json:"unseen_frames,omitempty"`
	LagAt        []int64 `json:"lag_at,omitempty"`
}

// Checkpoint is one checkpoint over all repeats.
type Checkpoint struct {
	Name      string    `json:"name"`
	Kind      string    `json:"kind"`
	Asks      string    `json:"asks"`    // what must be seen, in words
	At        string    `json:"at"`      // as written in the spec
	Verdict   string    `json:"verdict"` // pass, fail, unseen
	Results   []Result  `json:"results"`
	Spread    string    `json:"spread,omitempty"` // how far apart what was read or measured lies over the repeats
	Counts    *Counts   `json:"counts,omitempty"` // over all repeats, when there are more than results
	Templates []Picture `json:"-"`
}

// Timing is the time from one event of a spec to another in one repeat.
type Timing struct {
	Repeat  string  `json:"repeat"`
	Verdict string  `json:"verdict"` // pass, fail, unseen
	Frames  int64   `json:"frames"`
	Seconds float64 `json:"seconds"`
	Low     int64   `json:"low"` // what unseen frames leave open
	High    int64   `json:"high"`
	Why     string  `json:"why"`
	Clock   string  `json:"clock,omitempty"`
}

// Result is a checkpoint in one repeat.
type Result struct {
	Repeat    string   `json:"repeat"`
	Verdict   string   `json:"verdict"`
	Frame     int64    `json:"frame"`
	Score     *float64 `json:"score,omitempty"`
	Threshold float64  `json:"threshold,omitempty"`
	At        *[2]int  `json:"at,omitempty"`
	Why       string   `json:"why"`
	Clock     string   `json:"clock,omitempty"`
	// Value is what was read or measured, such as 6 or (1, 0), or what was seen.
	Value       string   `json:"value,omitempty"`
	ThresholdBy string   `json:"threshold_by,omitempty"` // where the threshold comes from
	Noise       float64  `json:"noise,omitempty"`        // of the picture, levels, when the threshold was derived from it
	Unsure      int      `json:"unsure,omitempty"`       // pictures of the range that did not tell
	Seen        *Picture `json:"-"`                      // the screen that decided, with Box on the place found
}

// Divergence is a place where a family parts from another.
type Divergence struct {
	A      string `json:"a"` // name of the reference run
	B      string `json:"b"` // name of the run that parts
	Family int    `json:"family"`
	Frame  int64  `json:"frame"`
	Since  int64  `json:"since"` // first frame not known to be equal; less than Frame when frames between were unseen
	Read   int64  `json:"read"`  // read in force there, -1 when none
	Kind   string `json:"kind"`
	Shift  int    `json:"shift"` // frames that B is later than A, for kind shift
	Stays  bool   `json:"stays"` // the shift lasts to the end
	// Part is what the evidence points to: board, console, card, program or
	// unknown.
	Part        string   `json:"part,omitempty"`
	Region      *[4]int  `json:"region,omitempty"` // x, y, w, h on the raster
	Why         string   `json:"why"`
	Try         string   `json:"try"` // what to try next
	ProgramLine int      `json:"program_line"`
	ProgramText string   `json:"program_text"`
	Mark        string   `json:"mark,omitempty"` // last mark before the read, with the distance
	ReadRows    []ReadAt `json:"reads_around"`
	PictureA    *Picture `json:"-"`
	PictureB    *Picture `json:"-"`
	Window      *Window  `json:"-"`
}

// Suspect is a difference of two runs that the frames after it did not confirm.
// It is counted and never called a divergence.
type Suspect struct {
	Frame  int64   `json:"frame"`
	A      string  `json:"a"`
	B      string  `json:"b"`
	Kind   string  `json:"kind,omitempty"`   // flicker, or empty
	Region *[4]int `json:"region,omitempty"` // x, y, w, h on the raster
}

// ReadAt is one row of the reads of both runs around a divergence.
type ReadAt struct {
	Frame  int64  `json:"frame"`
	A      string `json:"a"` // for example "read 412: right+b, 8 clocks"
	B      string `json:"b"`
	Differ bool   `json:"differ"`
}

// Picture is an encoded picture of the raster.
type Picture struct {
	Data []byte  // PNG or JPEG
	Type string  // "image/png" or "image/jpeg"; the page goes by Data
	Alt  string  // what it shows, for those who do not see it
	W, H int     // pixels; the page goes by Data
	Box  *[4]int // place to mark: x, y, w, h
}
