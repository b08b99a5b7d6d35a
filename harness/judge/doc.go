// Package judge turns a captured run into verdicts.
//
// It decodes the capture, brings every picture to the console's raster, asks the
// frame clock which console frame the picture is of, and hands each frame to the
// checkpoints that ask for it and to the trace from which runs are compared. The
// live bench, a recorded run and anybody's video all take this one way. The
// stretch in which the spec's anchor is looked for is decoded twice. When an
// earlier watching has told what every picture is (frames.csv of a sealed run),
// only the pictures that a checkpoint asks for are looked at, and what lies
// between is skipped from key picture to key picture.
//
// A capture picture is what stands for one instant: a picture of the file, or
// one of the two fields woven into it. Field f (0 is first in time) of picture n
// has the index 2n+f.
//
// # Verdicts
//
//	pass    the capture shows what the checkpoint asks for
//	fail    the capture shows the frame, and it shows something else
//	unseen  the capture has no picture of the frame: dropped by the card, too
//	        near to a frame boundary to be told from its neighbour, repeated,
//	        damaged, or of an untrusted clock; or the picture does not tell, such
//	        as a digit between two glyphs. Unseen is never a pass.
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
// A kind that judges its range together (`still`) sees the pictures in order, and
// is judged like the others, as with `every: true` when all of them must hold. A
// picture that does not tell is as good as none, and counted as unsure.
//
// # Timing
//
// An event is the first seen frame in which a template is there and was not in the
// seen frame before (`shows`), or is not and was (`gone`), or a moment (`at`). `to`
// is the first such frame at or after that of `from`; what was there before is no
// event. The time is counted between these frames; frames just before them that
// have no picture leave open how much sooner each event came, so low and high are
// told beside it. A score less than 0.1 below its threshold does not tell either;
// when one came before, the event may have been there already. When an event is in no picture it fails if all frames were seen
// and told, and is unseen otherwise. The seconds are frames at the exact rate of
// the profile, not of the console's crystal. Once both events are found nothing
// more is looked at.
//
// # Repeated and damaged pictures
//
// A card that has no new picture in time may deliver the last one again. Such
// a picture is the same to the last bit of the decoded planes, which two
// pictures of a noisy capture hardly ever are. So in a capture with noise a
// picture equal to the one before is taken as a repeat and stands for no frame. A
// flat picture (fewer than one in 16 of its blocks of 8x8 pixels vary by more
// than 2 levels) is never taken for one: a codec makes it the same whatever the
// noise. A capture counts as one without noise when, in at least a tenth of the
// sampled pairs of neighbours that differ, more than 30 % of the blocks with
// texture are equal to the last bit: something moves and the rest stands still.
//
// In a capture without noise, and where a codec makes a repeat anew (H.264), a
// picture that no block of which differs from the one before by more than half a
// level in root mean square is a repeat only in the midst of motion (six of
// eight pairs on either side move) and when the pair after it moves as far as
// two steps: nearer, by ratio, to the median change over two pictures than to
// that over one, with the two at least 1.3 times apart; and when the console
// itself made no lag frame there. A codec that makes repeats of a noisy picture anew
// leaves more than that half level: there a picture also counts as equal when no
// block changes as much as motion does (2.5 levels) and all of it 256 times less
// than the quietest moving pair around. Measured on H.264 of the simulated bench,
// in sums of squares: repeats 200 to 7,400, everything else 100,000 and more.
// Anything less would take the still pictures of
// a game that moves nine pixels in ten frames for repeats. So a card that repeats
// pictures of a clean source where little moves is not found out by this; where
// nothing moves it does no harm.
//
// Where pictures are coded by how they differ from others (some are no key
// pictures), up to four pictures between two that move, or the first of the run,
// are repeats also without a step by two, when nothing else in the run stands
// still: of all pairs known so far (32 pictures ahead, 1024 behind, 24 pairs at
// least) at most one in 12 rests like that, and every other one changes 16 times
// as much in its most changed block and twice as much altogether. Nothing is
// expected to move between two pictures that the clock calls, or may call, one
// frame, and after the console's lag frames: so many frames after them as the
// pictures of four or more stand still (nine in ten do, and by no other number of
// frames from -1 to 3), or anywhere in those five while that is not known. A next
// picture that clearly moves by one step (by 1.3 less than any two steps around)
// says that the game paused. A game that stands still in more than one frame of
// 12, or at some time for more than four, hides the repeats, and so do pictures
// beside them that are unsure.
//
// A picture that the decoder calls damaged stands for no frame. Torn pictures
// are not told within a run, for want of a sound rule: layers that scroll at
// fractions of a pixel stand still by turns, and tried on the simulated game such
// a rule took 1.5 % of sound pictures for torn ones. Comparing runs tells them
// (package lockstep), as differences that do not last.
//
// # The clock against the pictures
//
// A wrong clock must not be silent, so what it says is held against how much the
// pictures change, by sums of squares over the block features (package
// lockstep). When either of these has a chance below 1e-4 a measured clock is
// untrusted, all verdicts are unseen and no picture stands for a frame; of an
// assumed clock it is said as a problem.
//
//	changes  pairs of neighbours that the clock calls one frame (a card faster
//	         than the console) and that change twice as much as a pair within two
//	         places of them that it calls two frames. One in 100 may, for glitches
//	         (binomial)
//	skips    places where the clock says that a frame has no picture (skipped by a
//	         slower card, or hidden behind a repeat) and no step there is nearer to
//	         the median change over two frames than over one, of those in the 10
//	         pictures around. How often a step by two frames looks like that is
//	         measured on all the steps by two frames of the same run, plus three
//	         for the bound of 95 % (binomial)
//
// A skip every 6.3 s is little to go by: in a run of 20 s, or a game that itself
// stands still in every tenth frame, the second may stay below its bar. A latency
// that is half a frame wrong shows in 2.5 s as one skip at the wrong place or none,
// and one skip cannot reach the bar of 1e-4: the share of steps by two frames that
// look like one is bounded by three in the number of them, 2 % in 150 at best. What
// remains is found when runs are compared: as a shift while the reads keep their
// frames. A clock that is off by whole frames all the time shows nothing within a
// run but by the anchor, which is held against the calibrated latency.
//
// Pictures within the guard of a frame boundary stay unsure. Neighbours cannot
// resolve them: where the card is slower than the console every picture differs
// from both neighbours whichever frame it is of, and where it is faster another
// picture of the same frame is sure.
//
// Package judge is not for comparing runs with one another (package lockstep)
// nor for the tree of tests (package harness).
package judge
