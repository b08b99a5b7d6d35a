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
	// ErrDamaged: the run ended but part of its log never arrived.
	ErrDamaged = errors.New("the log is damaged")
	// ErrFault: the board reported a fault of its own and stopped the run.
	ErrFault = errors.New("the board reports a fault")
)
