package feeder

import (
	"time"

	"latchproof/specs/program"
)

// PlayRequest is one run to be played.
type PlayRequest struct {
	// Runs is the program as a run-length timeline. Runs longer than 65535
	// reads are split on the wire.
	Runs []program.Run
	// Reads is the length of the program in reads, the sum of the counts.
	Reads int64
	// Tail is how many reads more are logged, with released buttons served.
	Tail int64
	// BurstGap: latch pulses closer together than this are one read. Whole
	// microseconds.
	BurstGap time.Duration
	// LatchActive is "high" or "low".
	LatchActive string
	// Start is how the console is started.
	Start StartKind
	// Hold is how long reset is held or power is cut; 0 means 100 ms for a
	// reset and 2 s for power. Whole milliseconds, at most 65.535 s.
	Hold time.Duration
	// Limit ends the run when the console makes no read for so long; 0 means
	// 10 s. Whole milliseconds, at most 30 minutes.
	Limit time.Duration
}

// DoneReason is why a run ended.
type DoneReason uint8

// Why a run ended. DoneNone means that the board never said so.
const (
	DoneNone     DoneReason = iota // the board never reported the end
	DoneComplete                   // all reads of program and tail were made
	DoneIdle                       // the console made no read for the limit
	DoneAborted                    // the host asked for the end
	DoneFault                      // the board gave up
)

// LostRange is a stretch of log records that never arrived, both ends
// included.
type LostRange struct{ From, To int64 }

// Outcome is what became of a run. After an error it holds what is known up
// to then.
type Outcome struct {
	// Reads and Latches are the board's own counts when it reported the end,
	// otherwise Reads is 0 and Latches counts the records that arrived.
	Reads, Latches int64
	// Reason is why the run ended; DoneNone when the board never said so.
	Reason DoneReason
	// Damaged means that evidence is missing: see Lost and Problems.
	Damaged bool
	// Lost lists the log records that never arrived.
	Lost []LostRange
	// Underruns are the indexes of the latch pulses at which the board had no
	// program data and served released buttons instead.
	Underruns []int64
	// Problems says in plain words everything that went wrong.
	Problems []string
}
