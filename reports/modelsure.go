package reports

// Survival is how long the repeats of a spec stayed in lockstep with the
// reference. A repeat parts at its first divergent frame; one that did not is
// cut at the last frame that both it and the reference saw.
type Survival struct {
	Repeats    int            `json:"repeats"` // beside the reference
	Parted     int            `json:"parted"`
	Cut        int            `json:"cut"`        // cut short by trouble, before the end
	Confidence float64        `json:"confidence"` // of the limits, a share
	Steps      []SurvivalStep `json:"steps"`
	Sentence   string         `json:"sentence"`
}

// SurvivalStep is what holds from a frame on. There is one at each frame at which
// a repeat parted or was cut, so that the curve is marked where that was. Low and
// High are both 0 where there are no limits and the share is not 0 itself.
type SurvivalStep struct {
	Frame    int64   `json:"frame"`
	AtRisk   int64   `json:"at_risk"` // repeats in lockstep just before it
	Parted   int64   `json:"parted"`  // at this frame
	Cut      int64   `json:"cut"`     // at this frame
	Survival float64 `json:"survival"`
	SE       float64 `json:"standard_error"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
}

// ReadTiming is when the console read its controller in one repeat.
type ReadTiming struct {
	Repeat      string  `json:"repeat"`
	Reads       int64   `json:"reads"`
	PPM         float64 `json:"ppm"` // frame rate against nominal
	JitterUS    float64 `json:"jitter_us"`
	PeakUS      float64 `json:"peak_us"`
	LagFrames   int     `json:"lag_frames"`
	DoubleReads int     `json:"double_reads"`
	ExtraClocks int     `json:"extra_clocks"` // reads whose clock pulses are too many or too few
	Underruns   int     `json:"underruns"`
	LateServes  int     `json:"late_serves"`
	LostRecords int     `json:"lost_records"`
	// From latch pulse to first bit; both 0 when the board does not tell.
	ServiceMedianUS float64 `json:"service_median_us"`
	ServiceWorstUS  float64 `json:"service_worst_us"`
	// Bins are the spacings of the reads from a whole frame.
	Bins []Bin `json:"bins"`
	// Allan is the Allan deviation of the reads' clock, a ratio, and TDEV its
	// time deviation in seconds.
	Allan []StabilityPoint `json:"allan_deviation"`
	TDEV  []StabilityPoint `json:"time_deviation_s"`
	// Board: an anomaly is of the board or its wires, not of the game.
	Board     bool     `json:"board_anomaly"`
	Sentences []string `json:"sentences"` // one for each anomaly
}

// Bin counts the reads from one spacing up to another.
type Bin struct {
	FromUS float64 `json:"from_us"`
	ToUS   float64 `json:"to_us"`
	Count  int64   `json:"count"`
}

// StabilityPoint is a deviation at an averaging time. Low and High are 0 where
// there are no limits.
type StabilityPoint struct {
	TauS  float64 `json:"tau_s"`
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Terms int     `json:"terms"`
}

// Soak is a session that was played until a claim was told.
type Soak struct {
	Claim string `json:"claim"`
	// Verdict is "proven", "refuted" or "cannot tell".
	Verdict string `json:"verdict"`
	Repeats int64  `json:"repeats"` // played
	Clean   int64  `json:"clean"`
	Parted  int64  `json:"parted"`
	Left    int64  `json:"left_out"` // could not be compared, and counts for neither
	// CleanNeeded is how many further clean repeats would prove it: 0 when it is
	// proven or refuted, -1 for more than a million.
	CleanNeeded int64  `json:"clean_needed"`
	Sentence    string `json:"sentence"`
	Policy      string `json:"policy"` // what is kept of the repeats
}

// Baseline is a check of a candidate against a baseline.
type Baseline struct {
	Sentence string `json:"sentence"`
	// Verdict is "no worse", "worse", or "cannot tell" with or without ": " and
	// what it would need.
	Verdict string         `json:"verdict"`
	Differs []string       `json:"differs"` // what differs between the two benches
	Specs   []BaselineSpec `json:"specs"`
}

// BaselineSpec is what was found of one spec.
type BaselineSpec struct {
	Name     string        `json:"name"`
	Verdict  string        `json:"verdict"` // as that of Baseline
	Sentence string        `json:"sentence"`
	Rows     []BaselineRow `json:"rows"`
	// Survival is that of the baseline and that of the candidate; the key is
	// absent when there is neither, and one of them may be null.
	Survival [2]*Survival `json:"survival,omitzero"`
	PartsAt  *int64       `json:"parts_at_frame,omitempty"` // where the candidate's picture parts from the baseline's
}

// BaselineRow is one test.
type BaselineRow struct {
	What      string `json:"what"`
	Baseline  string `json:"baseline"`
	Candidate string `json:"candidate"`
	P         string `json:"p"` // after the correction for many tests
	Verdict   string `json:"verdict"`
}
