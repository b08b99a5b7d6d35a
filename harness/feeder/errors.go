package feeder

import "errors"

// The kinds of trouble with a link. Every error of this package that has one
// of these causes matches it with errors.Is; the text says what happened and
// what to do.
var (
	// ErrPort: the serial port could not be opened at all.
	ErrPort = errors.New("cannot open the port")
	// ErrProtocol: the board speaks another version of the protocol.
	ErrProtocol = errors.New("other protocol version")
	// ErrSilent: no answer, or no sign of life, in the time allowed.
	ErrSilent = errors.New("the board is silent")
	// ErrGone: the port closed or vanished: unplugged, powered off, hung up.
	ErrGone = errors.New("the port is gone")
	// ErrRefused: the board, or the client for it, does not accept a command.
	ErrRefused = errors.New("refused")
	// ErrDamaged: the run ended but part of its evidence never arrived.
	ErrDamaged = errors.New("the log is damaged")
	// ErrFault: the board reported a fault of its own and stopped the run.
	ErrFault = errors.New("the board reports a fault")
)

// linkError is an error whose text is complete by itself; kind and cause are
// for errors.Is and errors.As.
type linkError struct {
	kind  error
	cause error // may be nil
	text  string
}

func (e *linkError) Error() string { return "feeder: " + e.text }

func (e *linkError) Unwrap() []error {
	if e.cause == nil {
		return []error{e.kind}
	}
	return []error{e.kind, e.cause}
}
