package live

import (
	"fmt"
	"time"
)

// Account is the account of a recording. It is kept in run.json as it is.
type Account struct {
	Source   string   `json:"source"`            // what delivered the pictures
	Format   Format   `json:"format"`            // as they came
	Pictures int64    `json:"pictures"`          // in the file
	Card     int64    `json:"lost_by_card"`      // never came: gaps in the card's count or times
	Ours     int64    `json:"lost_by_us"`        // came, and were not recorded because the writer was behind
	Damaged  int64    `json:"damaged_by_card"`   // recorded, and called damaged by the card itself
	Empty    int64    `json:"empty"`             // came without contents; counted in lost_by_card too
	Faults   int64    `json:"faults"`            // errors of the card after which it went on
	Skipped  int64    `json:"skipped_live"`      // recorded, and not judged while the run went on
	Signal   int64    `json:"no_signal_seconds"` // whole seconds without any picture
	Gaps     []Gap    `json:"gaps,omitempty"`    // where pictures are missing
	Notes    []string `json:"notes,omitempty"`   // of the source
	// DamagedAt are the pictures of the file that the card called damaged,
	// ascending.
	DamagedAt []int64 `json:"damaged_at,omitempty"`
}

// Problems says in plain words what a reader of the run must know; nothing when
// every picture came and was recorded.
func (r Account) Problems() (out []string) {
	say := func(n int64, one, many string) {
		switch {
		case n == 1:
			out = append(out, "capture: 1 "+one)
		case n > 1:
			out = append(out, fmt.Sprintf("capture: %d %s", n, many))
		}
	}
	say(r.Card, "picture was lost by the card", "pictures were lost by the card")
	say(r.Ours, "picture was lost by this program, which could not write as fast as the card delivers", "pictures were lost by this program, which could not write as fast as the card delivers")
	say(r.Damaged, "picture is damaged, says the card", "pictures are damaged, says the card")
	say(r.Faults, "error of the card, after which it went on", "errors of the card, after which it went on")
	say(r.Signal, "second without a picture: no signal", "seconds without a picture: no signal")
	for _, n := range r.Notes {
		out = append(out, "capture: "+n)
	}
	return out
}

// place is what is kept of a recorded picture until the instants are settled.
type place struct {
	stamp, media time.Duration
	hasMedia     bool
}

// instants are the instants of the recorded pictures on the host's clock. Where
// the stream has times of its own they are laid on the host's clock so that no
// picture arrives before its time and one arrives on it: what comes late through
// a pipe comes late by turns, and what is always late belongs to the latency.
func instants(all []place) []time.Duration {
	out := make([]time.Duration, len(all))
	off, known := time.Duration(0), len(all) > 0
	for i, p := range all {
		if !p.hasMedia {
			known = false
		}
		if d := p.stamp - p.media; i == 0 || d < off {
			off = d
		}
	}
	for i, p := range all {
		out[i] = p.stamp
		if known {
			out[i] = p.media + off
		}
		if i > 0 {
			out[i] = max(out[i], out[i-1])
		}
	}
	return out
}
