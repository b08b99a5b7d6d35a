// Package calibrate tries a bench (`latchproof bench check`): it plays a short
// program by turns with and without its marked presses, looks at the link, the
// reads and the pictures, says in a maker's words what is fine and what to do
// about the rest, and gives the calibration that a bench file keeps
// (harness.Calibration).
//
// # The program
//
// Marks named `answer`, or `answer-` and more, stand at presses that the screen
// answers visibly, and of which nothing is left before the next one. The other
// program is the same with the buttons that go down there released. Something
// must scroll or walk one way somewhere, for fields. At a mark `colours` the scene
// stands still for three frames, when there is a reference. Both programs are
// played Repeats times, by turns, the one without presses first.
//
// # Findings
//
//	link               runs that came to their end
//	link.identity      the board, the same in all runs and the one of the bench file
//	link.trip          round trips; look at a middle over 20 ms
//	link.underrun      latch pulses that were served without program
//	link.service       how fast the board served the latch pulses; look at any that
//	                   was over before the first bit was out
//	board.clock        board against host; look at over 100 ppm
//	board.steady       between runs; look at over 4 ppm, or twice what can be told
//	reads.rate         console against its profile; look at over 60 ppm
//	reads.steady       between runs by the board's clock; look at over 4 ppm, or five
//	                   standard errors of a run's rate
//	reads.jitter       about the frame; look at over 1 ms RMS
//	reads.missing      frames without a read: lag, or reads that the board missed
//	reads.extra        more than one in a frame
//	reads.double       of several latch pulses
//	reads.clocks       clock pulses that are no multiple of 8
//	card.rate          measured, and the nearest standard rate (rates.go); look at
//	                   over 150 ppm, or over 300 ppm from what the bench says
//	card.jitter        of the stamps; look at over 0.5 ms RMS, or when one in
//	                   twenty is off by over 1 ms
//	card.drops         pictures missing from the card's row
//	card.repeats       pictures that are the one before once more
//	card.signal        pictures without content where another run shows some
//	card.torn          pictures of two moments
//	card.damaged       pictures that the decoder calls damaged, or with a region
//	                   that no other run shows on that frame
//	reset.same         runs of a program that part, or lag on different frames
//	picture.active     where the raster lies (below)
//	picture.fields     none, top or bottom first (below)
//	latency            (below) look at over 2 ms of doubt
//	latency.steady     pictures that contradict it; look at over 2 %
//	latency.changed    against what the bench says
//	picture.noise      RMS of a raster pixel; look at over 4 levels of Y, 6 of colour
//	picture.crosstalk  composite colour's pattern; look at over 2.5 times its surroundings
//	picture.detail     what is left against the reference; look at over 5 levels RMS
//	colour.black       level of the border; look at over 5
//	colour.levels      gain and offset against the reference; look at 5 %, 4 levels
//	colour.range       limited and full range confused (colour.go)
//	colour.clipping    pixels cut off at black or white; look at over 1 %
//	colour.saturation  look at 15 %
//	colour.drift       between pictures of the same frame; look at over 0.8 % RMS
//
// and `clock`, `card`, `reads` when there is none. The bars are common practice
// with no source, set so that what the rest of the program bears without loss is
// ok. A finding that could not be measured says why; it is no fault.
//
// # Places without a latency
//
// Before the latency is known every picture still has a place u: its instant in
// console frames since the start of frame 0, by the reads. A picture of frame n
// has n+L <= u < n+1+L, L being the latency in frames. So two pictures of the same
// frame, of whatever runs, lie less than a frame apart, and of two pictures of
// other runs around u that are not more than a frame apart one must be of u's
// frame. That is how pictures are held against other runs: one that is like none
// of those that may be of its frame, although one of them must be, is wrong, and a
// run most of whose pictures are wrong from some place on has parted. How far
// pictures may be apart follows from how far they mostly are (match.go); a change
// of gain or of brightness of the whole picture does not count.
//
// # Latency
//
// The press is in the read of frame A-(AnswerFrames-1), so pictures of frame A
// and later show the answer. The first that shows it has u-A >= L; the last that
// does not, u-A < L. All presses of all repeats together give an interval, widened
// by the bound of error that package clock gives for each picture. Then pairs of
// pictures of runs of the same program narrow it: two less than a frame apart
// that differ have a frame's beginning between them, two that are the same (where
// the frame differs from those beside it) have none. What the fewest bounds and
// pairs contradict is taken, and how many do is told. The game's own delay cannot
// be seen from outside: AnswerFrames is taken for granted, and one that is wrong
// shifts all frame numbers by whole frames, in every run alike.
//
// A card whose rate is the console's own takes all pictures of a run at one place
// in the frame, so only repeats narrow it: to about 2/(runs+1) of a frame. A card
// under nine tenths of the console's rate that is not woven may give no dated
// answer at all.
//
// # Active picture
//
// The mean luma of every column and row over the pictures of one run, less that of
// the border: an edge is where it rises, and a line that shows the share c of what
// the line behind it shows is covered to c. Edges are exact for whole pixels, and
// within 0.15 pixels for fractions when the card enlarges by area; a card that
// interpolates blurs its edges, and up to half a pixel cannot be told from one
// that does not. Scenes that are dark along an edge, or games with borders of
// their own, give a smaller rectangle: the finding tells the pixels of the capture
// for one of the raster, which should be what the card's mode makes them.
//
// # Fields
//
// The even and the odd lines of pictures that move are compared with one another
// and across pictures; weave in survey.go says how.
//
// # Not for
//
// It changes nothing on the bench, and does not tell where in the chain from game
// to file a delay or a colour arises.
package calibrate
