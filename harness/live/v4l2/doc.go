// Package v4l2 reads a capture card through Video4Linux2: mapped buffers, with
// what the driver says of each picture. It is pure Go and does not decode; the
// pictures go to package live as they come.
//
// # What is asked for and what is checked
//
// Format (MJPG or JPEG, YUYV, NV12) and size are set and read back: a driver that
// takes something else without a word is an error. So is a rate more than 0.1 %
// from the one asked for, and a driver that hands out single fields. A driver
// that sets no rate delivers at that of the signal, which a digital input tells.
// No input, standard or control is chosen: what the driver has set stays.
//
// # What becomes of what
//
//	sequence number     a gap is pictures lost by the card; 32 bits are unwrapped;
//	                    a count that stands still or goes back tells nothing, and
//	                    the times are looked at in its place
//	time                CLOCK_MONOTONIC to the microsecond, moved to the host's
//	                    clock; with drivers that have another clock, the time of
//	                    arrival, which tells of no lost picture
//	error flag          the picture is recorded, and damaged
//	bytes used          0: a picture without contents, lost; fewer than a picture
//	                    that is not coded has: damaged, zeros for what is missing
//	EAGAIN, EINTR       waited again
//	EIO                 live.ErrFault, after which it goes on
//	ENODEV and others   live.ErrGone: disconnected
//	no picture for 1 s  live.ErrNoSignal, with what the input says (DV timings:
//	                    ENOLINK, ENOLCK, ERANGE; the input's status)
//
// Pictures are copied out of the driver's buffers at once, so that the driver
// always has buffers to fill.
//
// # Not tried
//
// This package was never run on hardware, nor on the kernel's virtual device: the
// machine that it was made on has no video device. Its structures and request
// numbers are held against the C header by the C compiler, and its rules against
// a device made up by the tests, so a driver's habits may still surprise it. Only
// architectures with pointers of 64 bits; pixel clocks on little endian.
//
// # Not for
//
// Cards whose driver has only the multi-planar interface, tuners, sound, and
// changes of the signal's size while it runs (they end as no signal).
package v4l2
