package main

import (
	"context"
	"errors"
	"syscall"

	"latchproof/harness"
	"latchproof/harness/baseline"
	"latchproof/harness/feeder"
	"latchproof/harness/record"
	"latchproof/harness/recordbook"
	"latchproof/harness/soak"
	"latchproof/vision"
)

// The exit codes.
const (
	codeHeld    = 0 // all held
	codeNot     = 1 // something did not hold
	codeUsage   = 2 // bad input or usage
	codeNothing = 3 // the bench or the evidence failed: nothing can be said
)

// verdictError carries an exit code whose reason was already printed.
type verdictError struct{ code int }

func (e verdictError) Error() string { return "verdict" }

// verdict is nil for a code of 0.
func verdict(code int) error {
	if code == codeHeld {
		return nil
	}
	return verdictError{code}
}

// usageError is a command line that is not understood.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

func isUsage(err error) bool { return errors.As(err, new(usageError)) }

// failed are the errors after which nothing can be said, whatever the input.
var failed = []error{
	feeder.ErrPort, feeder.ErrProtocol, feeder.ErrSilent, feeder.ErrGone, feeder.ErrDamaged, feeder.ErrFault, feeder.ErrRefused,
	record.ErrPartial, record.ErrDamaged, record.ErrFull, record.ErrDropped, soak.ErrDamaged, soak.ErrFull, soak.ErrBusy,
	recordbook.ErrDamaged, recordbook.ErrBusy, recordbook.ErrUnfinished,
	vision.ErrTruncated, vision.ErrNotWritten, vision.ErrDiskFull,
	harness.ErrStopped, harness.ErrDamaged, baseline.ErrDamaged,
	context.Canceled, context.DeadlineExceeded, syscall.ENOSPC, syscall.EIO,
}

func exitCode(err error) int {
	if err == nil {
		return codeHeld
	}
	var v verdictError
	if errors.As(err, &v) {
		return v.code
	}
	for _, f := range failed {
		if errors.Is(err, f) {
			return codeNothing
		}
	}
	return codeUsage
}
