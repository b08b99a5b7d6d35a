// Package readtiming says what the read log of one run tells of the timing of
// the reads: how fast the console runs, how steadily it reads, how fast the board
// served, and everything odd, each in one sentence with its reads.
//
// Of takes the latch pulses and what goes with them and gives a Study; nothing is
// fitted here: reads and frames are those of clock.Group and clock.FitReads, the
// board's clock is brought to the host's by a clock.Line.
//
// # Units
//
// Keys that end in _us are microseconds, _s seconds, _ppm parts per million.
// Reads, frames and latch pulses count from 0; reads are counted in the log, so
// from the first lost record on their numbers may be too low. What is about single
// reads is in microseconds of the board's own crystal, uncorrected: its error of
// some 50 ppm is nothing in a microsecond. Period and ppm of the whole run are
// corrected by the host's clock where time exchanges allow it, and MeasuredBy says
// whose clock it is.
//
// # Numbers
//
//	spacing    from a read to that of the next frame, less the measured period by
//	           the board's clock. Only reads on the frame grid count, and only
//	           where both frames have one. Quantiles are by nearest rank: the
//	           smallest value with at least that share at or below it
//	bins       width 2*IQR/cbrt(n) (D. Freedman and P. Diaconis, Zeitschrift für
//	           Wahrscheinlichkeitstheorie und verwandte Gebiete 57:453-476, 1981),
//	           rounded up to whole microseconds, since the board counts in them,
//	           and edges at whole multiples of it. At most MaxBins, about that of
//	           the median; what lies farther out is counted in below and above
//	jitter     RMS: of the reads on the grid about it (clock.ReadFit.Jitter). Peak:
//	           the farthest that such a read lay from the median of those within 30
//	           frames of it, so that slow wander is not taken for jitter
//	ppm        console's frame rate over the profile's, less 1. Its half width is
//	           what the time exchanges leave open (clock.Line.RateHalf) and five
//	           standard errors of a straight line through the reads; by the board's
//	           clock alone it holds the second only, and the board's own error is
//	           in the value
//	allan      overlapping Allan deviation, a plain number, of the times of the
//	           reads by frame as phase, at octaves; and tdev, time deviation, in
//	           seconds: see package stats. Frames without a read on the grid are
//	           missing points. The board's clock is in it as much as the console's,
//	           and averaging times are by it. White jitter of RMS s shows as an Allan
//	           deviation of sqrt(3)*s/tau; an octave without a term is left out
//	clocks     clock pulses that are no multiple of 8, for each latch pulse and
//	           port: PROTOCOL.md, section 6, LATCH
//	service    latency of each latch pulse that the board told; by nearest rank
//
// # Anomalies
//
//	kind             board  what
//	extra-clocks     yes    clock pulses that are no multiple of 8
//	underrun         yes    served without program data
//	late-serve       yes    the latch pulse was over before the first bit was out
//	lost-records     yes    log records that never arrived
//	lag-frame               a frame without a read
//	double-read             reads of several latch pulses, when fewer than nine in
//	                        ten are: else it is how the game reads
//	extra-read              a read too many in a frame
//	off-grid                a read far from where its frame has it
//	no-clocks               a read with latch pulses and no clock pulse, where
//	                        nine in ten have some
//	mixed-state             pulses of one read were served different states
//	service-gap             latencies that never arrived
//
// A lag frame and a read that the board missed look alike, and so do a read of two
// pulses and a stray pulse within the burst gap: the sentences say so. Where log
// records are lost, frames without a read are not called lag frames.
//
// # Not for
//
// It does not judge: no number is too large here. Whether a run can be compared
// with another is for package lockstep, and whether one bench is worse than
// another for those who have several runs of both: Summary is for them. Lost
// records at the very end of a log leave no trace in it.
package readtiming
