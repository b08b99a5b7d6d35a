package readtiming

import (
	"errors"
	"fmt"

	"latchproof/harness/clock"
	"latchproof/harness/record"
)

// ErrNoLog says that a run has no read log, so nothing is known of its reads.
var ErrNoLog = errors.New("the run has no read log")

// OfRun studies the log of a run. Errors: those of the record, ErrNoLog, and those
// of Of, with which a study is given all the same. Time exchanges that relate no
// clocks leave the rate as the board's own.
func OfRun(r *record.Run) (Study, error) {
	in := Input{Console: r.Meta.Console.Profile(), Underruns: r.Meta.Underruns}
	var err error
	if in.Latches, err = r.Reads(); err != nil {
		return Study{}, err
	}
	if len(in.Latches) == 0 {
		return Study{}, fmt.Errorf("%s: %w", r.Dir, ErrNoLog)
	}
	if in.Service, err = r.Service(); err != nil {
		return Study{}, err
	}
	if r.Has(record.SyncsFile) {
		syncs, err := r.Syncs()
		if err != nil {
			return Study{}, err
		}
		in.Board, _ = clock.FitBoard(syncs) // a board without a line is told by MeasuredBy
	}
	s, err := Of(in)
	if err != nil {
		err = fmt.Errorf("%s: %w", r.Dir, err)
	}
	return s, err
}
