package attest

// PredicateType names what a certificate states, version 1. The name is a URI as
// in-toto asks; it leads nowhere on purpose (RFC 6761 reserves .invalid).
const PredicateType = "https://latchproof.invalid/certificate/v1"

// Predicate is what a certificate states of its subjects, the files of an evidence
// bundle and the videos beside it. Everything in it follows from these files, but
// for who made the claim, which is what the claim says.
type Predicate struct {
	// Key is the public key that the certificate was signed with: SubjectPublicKeyInfo
	// (RFC 8410) in PEM. Sign sets it. It lets a reader check the signature, and says
	// nothing of whose key it is.
	Key string `json:"key"`
	// Claim is what was claimed.
	Claim PredicateClaim `json:"claim"`
	// House says against whose rules it was judged.
	House PredicateHouse `json:"house"`
	// Measured is the time between the two events of the spec.
	Measured PredicateTime `json:"measured"`
	// Standing compares the time with the best of the category in the record book
	// before: "first", "record" (fewer frames), "tie" or "slower"; "none" when there
	// was no book to compare with.
	Standing string `json:"standing"`
	// Before is the best of the category before, if there was one.
	Before *PredicateBefore `json:"before,omitempty"`
	// Benches are those it was played on, in the order of their names.
	Benches []PredicateBench `json:"benches"`
	// Frames is how many frames were compared, all runs together.
	Frames int64 `json:"frames"`
	// Unseen is how many of them one of the two runs had no picture of.
	Unseen int64 `json:"unseen"`
	// Versions of the programs that took part, by name.
	Versions map[string]string `json:"versions"`
	// Certified is when, RFC 3339 in UTC to the second, by the clock of the maker's computer.
	Certified string `json:"certified"`
	// RestsOnVideo names the checkpoints that only the videos can judge wholly.
	RestsOnVideo []string `json:"rests_on_video"`
}

// PredicateClaim is the claim.
type PredicateClaim struct {
	Name     string `json:"name"`     // what is claimed, in the submitter's words
	By       string `json:"by"`       // the submitter's chosen name
	Category string `json:"category"` // the house's category
	Frames   int64  `json:"frames"`   // the claimed time, frames
	// ProgramHash is the hash of the expanded button stream (specs/program), lower-case hex.
	ProgramHash string `json:"program_hash"`
}

// PredicateHouse is the house's policy as far as it decided.
type PredicateHouse struct {
	Name     string `json:"name"`     // what the house calls itself
	Repeats  int    `json:"repeats"`  // repeats asked for on each bench
	Lockstep int    `json:"lockstep"` // of them, how many must be in lockstep
	Benches  int    `json:"benches"`  // benches asked for
	Ties     string `json:"ties"`     // the rule for ties; "earlier": the earlier certificate keeps the place
}

// PredicateTime is a time in frames of the console.
type PredicateTime struct {
	Frames int64 `json:"frames"` // from the one event to the other
	Low    int64 `json:"low"`    // the least that all repeats together leave, frames
	High   int64 `json:"high"`   // the most that they leave, frames
	// Seconds is the time at the exact rate of the console's profile, and the
	// uncertainty of the crystal is not in them.
	Seconds float64 `json:"seconds"`
}

// PredicateBefore is an entry of the record book.
type PredicateBefore struct {
	Index  int64  `json:"index"`  // its place in the book, from 0
	Frames int64  `json:"frames"` // its time, frames
	By     string `json:"by"`     // the name that its submitter chose
	// Leaf is the RFC 6962 leaf hash of the entry, lower-case hex.
	Leaf string `json:"leaf"`
}

// PredicateBench is one bench and the runs on it.
type PredicateBench struct {
	Name     string   `json:"name"`     // what the bench is called
	Runs     []string `json:"runs"`     // its folders in the bundle
	Lockstep int      `json:"lockstep"` // runs in lockstep with the first run of the first bench, itself counted
}

// filled has empty lists where there were none.
func (p Predicate) filled() Predicate {
	p.Benches = append([]PredicateBench{}, p.Benches...)
	p.RestsOnVideo = append([]string{}, p.RestsOnVideo...)
	for i := range p.Benches {
		p.Benches[i].Runs = append([]string{}, p.Benches[i].Runs...)
	}
	if p.Versions == nil {
		p.Versions = map[string]string{}
	}
	return p
}
