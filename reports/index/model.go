package index

import "time"

// Index is what is known of many sessions.
type Index struct {
	Folder   string    `json:"folder"`
	Made     time.Time `json:"made"`
	Version  string    `json:"version"` // of this program
	Sentence string    `json:"sentence"`
	// Configurations are the newest first.
	Configurations []Configuration `json:"configurations"`
	Worse          []Change        `json:"worse"`    // the latest first
	Fell           []Fall          `json:"fell"`     // the surest first
	Sessions       []Session       `json:"sessions"` // the newest first, those without a date last
	Unread         []Unread        `json:"unread"`   // reports and folders that could not be read
	// Notes say what a bound left out.
	Notes []string `json:"notes"`
}

// Session is what the index keeps of one report.
type Session struct {
	Path  string    `json:"path"` // of report.json below the folder, with slashes
	Page  bool      `json:"page"` // report.html is beside it
	Title string    `json:"title"`
	Made  time.Time `json:"made"`
	// Dated: the date can be, so the session stands in trends.
	Dated         bool   `json:"dated"`
	Bench         string `json:"bench"`
	Simulated     bool   `json:"simulated"`
	Revision      string `json:"revision"` // of the feeder board
	Firmware      string `json:"firmware"`
	FeederSerial  string `json:"feeder_serial"`
	ConsoleSerial string `json:"console_serial"`
	Configuration int    `json:"configuration"` // index into Configurations
	// Verdict is "held", "not held" or "cannot tell", over all specs or of what
	// was asked.
	Verdict string `json:"verdict"`
	// Asked is "soak" or "baseline" when the session was one.
	Asked     string `json:"asked,omitempty"`
	Specs     []Spec `json:"specs"`
	SpecsLeft int    `json:"specs_left_out,omitempty"`
	// Jitter of the reads in microseconds, frame rate against nominal in ppm, and
	// the time from latch to first bit in microseconds, over the repeats of all
	// specs; null where the session has none.
	JitterUS  *Spread `json:"jitter_us"`
	PPM       *Spread `json:"ppm"`
	ServiceUS *Spread `json:"service_us"`
}

// Spec is one spec of a session.
type Spec struct {
	Name        string `json:"name"`
	ProgramHash string `json:"program_hash"`
	Verdict     string `json:"verdict"`
	InStep      int    `json:"in_step"`
	Repeats     int    `json:"repeats"`
	// Rate is null when there were fewer than two repeats.
	Rate *Spread `json:"rate"`
	// First is the earliest divergence, null for none.
	First *Divergence `json:"first_divergence"`
	Note  string      `json:"note,omitempty"` // of a demonstration
}

// Divergence is where a session's first repeats parted.
type Divergence struct {
	Frame int64  `json:"frame"`
	Kind  string `json:"kind"`
	Part  string `json:"part,omitempty"` // of the bench, that the evidence points to
}

// Spread is a value with what it reaches over; Low above High: no limits.
type Spread struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Configuration is a bench with a firmware and a board revision.
type Configuration struct {
	Bench     string `json:"bench"`
	Simulated bool   `json:"simulated"`
	Revision  string `json:"revision"`
	Firmware  string `json:"firmware"`
	Sessions  int    `json:"sessions"`
	// SessionsHeld and SessionsUntold are how many of them held and could not
	// tell, as wholes.
	SessionsHeld   int `json:"sessions_held"`
	SessionsUntold int `json:"sessions_cannot_tell"`
	// Current: the bench's latest session had it.
	Current bool `json:"current"`
	// Last is the index of its latest session.
	Last    int    `json:"last_session"`
	Verdict string `json:"verdict"` // over its specs
	// Held, NotHeld and Untold are the specs by their latest verdict.
	Held    []string `json:"held"`
	NotHeld []string `json:"not_held"`
	Untold  []string `json:"cannot_tell"`
}

// Change is a spec that held on a bench and does not now.
type Change struct {
	Bench string `json:"bench"`
	Spec  string `json:"spec"`
	Held  int    `json:"held"`  // index of the last session that held
	Since int    `json:"since"` // index of the first one since that did not
	// What changed between the two, in words; empty for nothing that is known.
	Changed []string `json:"changed"`
}

// Fall is a spec that holds in fewer sessions on a bench's current configuration
// than it did on the one before it. Sessions that could not tell are left out.
type Fall struct {
	Bench    string   `json:"bench"`
	Spec     string   `json:"spec"`
	Since    int      `json:"since"`  // index of the first session of the current configuration
	Before   int      `json:"before"` // index of the last session of the one before it
	Held     int64    `json:"held"`   // of Of sessions, now
	Of       int64    `json:"of"`
	HeldThen int64    `json:"held_before"`
	OfThen   int64    `json:"of_before"`
	P        float64  `json:"p"` // Fisher's exact test, one-sided, after Holm's correction
	Changed  []string `json:"changed"`
}

// Unread is a report or folder that could not be read.
type Unread struct {
	Path string `json:"path"`
	Why  string `json:"why"`
}

// The verdicts.
const (
	held    = "held"
	notHeld = "not held"
	untold  = "cannot tell"
)
