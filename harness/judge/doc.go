// Package judge turns a captured run into verdicts.
//
// It decodes the capture once, brings every picture to the console's raster,
// asks the frame clock which console frame the picture is of, and hands each
// frame to the checkpoints that ask for it and to the trace from which runs
// are compared. The live bench, a recorded run and anybody's video all take
// this one way.
//
// # Verdicts
//
//	pass    the capture shows what the checkpoint asks for
//	fail    the capture shows the frame, and it shows something else
//	unseen  the capture has no picture of the frame: dropped by the card, too
//	        near to a frame boundary to be told from its neighbour, repeated,
//	        damaged, or of an untrusted clock. Unseen is never a pass.
//
// A checkpoint over a range [a, b] passes when at least one seen frame of it
// holds. When none does it fails if all frames were seen, and is unseen if
// some were not, for the one that would have held may be among them. With
// `every: true` it fails at the first seen frame that does not hold; when all
// seen frames hold it passes if at most `unseen` frames of the range (default
// 0) had no picture, and is unseen otherwise. A picture taken so near to a
// frame boundary that it may be of either frame still counts there, when both
// frames lie in the range: it must hold whichever it is of, and it is a picture
// of one of them.
//
// # Repeated pictures
//
// A card that has no new picture in time may deliver the last one again. Such
// a picture is the same to the last bit, which two pictures of a noisy capture
// hardly ever are. So in a capture with noise a picture equal to the one before
// is taken as a repeat and stands for no frame. A flat picture (fewer than one in
// 16 of its blocks of 8x8 pixels vary by more than 2 levels) is never taken for
// one: a codec makes it the same whatever the noise. A capture counts as one without
// noise when, in at least a tenth of the pairs of neighbours that differ, more
// than 30 % of the blocks with texture are equal to the last bit: something
// moves and the rest stands perfectly still. In such a capture a repeat cannot
// be told from a scene that stands still, and pictures are believed: a card
// that repeats pictures of a perfectly clean source is not found out.
//
// Package judge is not for comparing runs with one another (package lockstep)
// nor for the tree of tests (package harness).
package judge
