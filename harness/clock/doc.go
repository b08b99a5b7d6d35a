// Package clock tells which console frame each captured picture is, from the
// times at which the console read its controller.
//
// # The model
//
// Console frame n starts at t(n) = t0 + n*P, where the period P wanders
// slowly. The console reads its controller at t(n) plus a small jitter, or not
// at all (a lag frame). Picture n can be seen by the card from t(n)+L up to
// t(n+1)+L. L is the latency: a constant of the bench, calibrated against the
// line through the reads. So a picture taken at the instant s is of frame
//
//	floor((s - L - t0) / P)
//
// and near the ends of that stretch nobody can say which of two frames it is
// of. Frame 0 is the frame of the first read.
//
// # The way
//
//	Group      latch pulses -> reads (pulses closer than the burst gap are one)
//	FitReads   reads -> t(n) by the board's clock; lag frames, extra reads
//	FitBoard   time exchanges -> the board's clock on the host's
//	Build      stamps of the pictures -> their instants -> their frames
//
// AssumedClock does without reads, and says so in its State and Why.
//
// # Sure or not
//
// The margin of a picture is the distance from its instant to the nearest
// frame boundary. It must exceed the guard, the plain sum of
//
//   - half the width of the latency interval (calibrated, narrowed by the anchor),
//   - the bound of error of the read grid (five standard errors, how far the
//     grid is seen to bend between its knots, and any small steps it made),
//   - the bound of error of the time exchanges, growing away from them,
//   - the bound of error of the row through the stamps, made like that of the
//     reads, and how well the punctual ones are found among stamps that come late
//     by turns.
//
// Otherwise the picture is Unsure and never stands for a frame. With a random
// place of the pictures in their frames a share of 2*guard/P of them is
// Unsure. Frames are Seen, Unseen (no picture can be of them) or Undecided
// (only an unsure one might be). A 60000/1001 Hz capture of a console at
// 39375000/655171 Hz loses one frame in 378.57; those are Unseen, and the
// frames beside them are Undecided while the pictures pass the guard.
//
// # The row
//
// Reads and stamps are both rows of nearly equal steps with gaps, jitter,
// strays and slow wander, and one fit serves both (grid.go): medians of
// differences over growing lags give the period; the shortest half of the
// phases on a circle, block by block, gives place and scale (Rousseeuw,
// Journal of the American Statistical Association 79:871-880, 1984); means of
// what lies near it give knots, averaged as far as wander allows. It is linear
// in the number of instants but for sorting. Stamps whose middle half is strewn
// over more than 0.18 of the period have no phase worth the name; they are
// counted instead (count.go), which needs a nominal rate within 1 %. Either way
// the tick of every stamp is then settled by likelihood, and a stamp whose tick
// is not certain (beside a lost picture, where jitter may reach over a tick) is
// of no frame. The straight lines are
// Theil-Sen and least squares of harness/stats. property_test.go checks Build on 520 random runs
// whose every frame is known, stress_test.go on harsh ones (jitter of 8 ms,
// 600 pictures lost at once, all clocks wandering), example_test.go on the arithmetic of the
// NTSC-family rates, trouble_test.go on one trouble at a time.
//
// # Limits
//
//	reads            30 or more
//	pictures         8 or more
//	console rate     within 2000 parts per million of the profile's
//	card rate        within 5 % of what the bench says, if it says anything
//	stamp jitter     up to about 8 ms, half width or sigma, at 60 Hz
//	pause            up to 12,500 frames without a read, or ticks without a picture
//	after last read  0.25 s; pictures later than that are Outside
//
// A clock outside of them is Untrusted, with the reason, and gives no picture
// a frame.
//
// # What it is not for
//
// It does not look at pictures: which of them are repeats made by the card or
// damaged is for the caller to say (Input.Stale), and a console that hangs
// counts on. Several things look alike in the times alone: a read that the
// board missed and a lag frame; a first read missed and a run that began a
// frame later (the anchor tells); a reset and a pause, when the reads fall
// back on the old grid within about 0.3 ms; a stray read on the tick of a lag
// frame and a read of that frame; a stamp late by a whole tick before a lost
// picture and a lost picture before a punctual one. A delay of all stamps and
// half of the lopsidedness of the link to the board are part of the latency:
// calibrate over the same link. A game with two regular reads a frame farther
// apart than the burst gap is not followed.
package clock
