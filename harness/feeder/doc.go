// Package feeder is the link to the feeder: the board at a console's
// controller port that serves a button program read by read and logs every
// read with its own clock.
//
// PROTOCOL.md beside this file describes the wire completely: serial 115200
// 8N1, COBS frames with CRC-16/IBM-3740, sequence numbers, little endian.
// AppendFrame and Decoder speak it in both directions, Client is the host's
// side, Dial opens the port. The simulated board is fixtures/board.
//
//	line, err := feeder.Dial("/dev/ttyACM0")
//	c := feeder.NewClient(line, clock, feeder.Options{})
//	id, err := c.Hello(ctx)
//	before, err := c.Sync(ctx, 20)
//	out, err := c.Play(ctx, request, func(l feeder.Latch) { ... })
//	after, err := c.Sync(ctx, 20)
//
// Units: reads and latch pulses are counted from 0 after the console's
// release; board time is microseconds on the board's own crystal (Latch.Micros,
// Sync.Micros), unwrapped from the wire's 32 bits to 64, never corrected for
// its error; host time is whatever Clock gives; Service.Latency is nanoseconds by
// the board's own crystal. Button states are the 16 bits
// of program.State.
//
// Errors are distinguishable by errors.Is: ErrPort, ErrProtocol, ErrSilent,
// ErrGone, ErrRefused, ErrDamaged, ErrFault, and the context's own errors. A
// console that stops reading, and an underrun, are not errors of the link: see
// Outcome.
//
// It is not for deciding what a log means: package clock groups latch pulses
// into reads and places them in time, package lockstep compares runs.
package feeder
