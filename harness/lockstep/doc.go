// Package lockstep compares the screens and reads of runs: whether they show
// the same picture on the same frame, where they part, and of what kind the
// parting is.
//
// # Features, version 1
//
// A screen is kept as means over blocks of 8x8 pixels of the raster, in rows
// from the top left: four luma means over 4x4 pixels, then the means of Cb and
// of Cr over the block, in quarter levels (0..1020). See Features for blocks
// that stick out of the raster. What moves within 4x4 pixels without changing
// their mean is not seen. 8 bits would cost sensitivity in quiet captures, the
// full 12 would keep noise; quarter levels add 0.07 levels to the noise.
//
// # Trace files (*.lpt), version 1
//
// Little endian throughout. Checksums are CRC-32C.
//
//	head    "LPTRACE\n"; u16 format version 1; u16 feature version 1;
//	        u16 width; u16 height (pixels of the raster, 1..1024);
//	        u32 checksum of the 16 bytes before
//	chunk   u32 "CHNK"; u64 first frame; u32 frames, 1..64; u32 packed length;
//	        u32 checksum of the 20 bytes before and of the packed bytes;
//	        the packed bytes: one zstd frame (RFC 8878)
//	...     every chunk but the last has 64 frames; the first starts at frame 0
//	end     u32 "LEND"; u64 number of frames; u32 checksum of the 12 bytes before
//
// A chunk unpacks to one byte a frame (0 unseen, 1 unsure, 2 seen), then the
// features of its frames that are not unseen: each less the same feature of
// the picture before in the chunk (0 for the first), zig-zag coded to 16 bits
// (0, -1, 1, -2, ... are 0, 1, 2, 3, ...), the low bytes of all of them, then
// the high bytes. The writer holds one chunk at a time, a reader two. A file that is
// cut off, damaged or of another version is a *TraceError.
//
// A frame of 256x240 takes about 0.8 KB when the capture has no noise of its
// own and 4 to 5 KB when it has (BenchmarkTrace).
//
// # When two pictures differ
//
// A comparison goes through the frames that both runs saw; frames that one run
// did not see, or not for sure, are counted as unseen and nothing is said of
// them. When both runs end on the same frame and neither ended early, what they
// show after it (a frame clock follows the console for 0.25 s after the last
// read) is compared, too, but not counted: there the labels of a card that is
// half a frame late may begin to be wrong. For each frame:
//
//  1. Gain and offset of every plane, from the first run to the second, come
//     from a least-squares line over the frames before (about the last five
//     count, for the offset the last) and, for this frame, up to 8 levels more
//     offset. What makes one run's whole picture evenly brighter or darker by
//     less than that from frame to frame is taken for drift: a card's brightness
//     that walks at random by 10 levels RMS with a memory of 5 s strays by 1.2
//     levels a frame from the other run's, and now and then by four times that.
//  2. The noise of what is left is measured in this very frame, for luma and
//     chroma apart: the blocks are sorted into five classes (dark, and four of
//     rising roughness), and in each the standard deviation is the largest of
//     those that the 50, 90 and 97 % quantiles of the absolute residuals give.
//     It is at least 0.75 levels, and at most 1.25 times what the class had in
//     the frames before (64 are kept), or up to 2 times when the classes rise
//     together: noise rises everywhere, a difference of the pictures does not.
//     While a class is new it is at most the largest of 3 levels and what the
//     other classes have, or, when nothing is known, twice the noise from
//     picture to picture within the runs. A change of scene in both runs starts
//     this anew. Bit-equal pictures tell nothing of the noise: two encoders given
//     the same make the same errors, until one is given another.
//  3. A block differs when one feature, the four luma means together, the two
//     chroma means together, or the luma of two by two blocks together are
//     beyond the threshold.
//  4. The whole picture differs when its noise, where it is above 3 levels, is
//     1.3 times that of the frames before and beyond the prediction limit of
//     Student's t for its logarithm (checked against scipy): a
//     background one pixel further that no single block shows. It needs eight
//     frames. Such a change, when faint, may be found some frames late.
//
// # The chance of a false alarm
//
// A frame of B blocks is put to n = 9B tests: six single features, three sums.
// When each is passed by noise alone with a chance of 1e-9/n, then the chance
// that any is, is at most 1e-9 (Bonferroni's inequality; the tests need not be
// independent, and neighbouring blocks are not). For n independent tests the
// exact share is 1-(1-1e-9)^(1/n) (Sidak): the threshold differs in the eighth
// digit, as threshold_test.go shows against scipy's quantile of the greatest of
// 960 normals. The limit law of Gumbel is of no use here: at such chances it is
// a whole standard deviation too high. For 960 blocks the thresholds are 7.4
// standard deviations of one feature, 8.1 of four and 7.7 of two together
// (two-sided normal, chi-square with 4 and 2 degrees of freedom), and 9.7 of
// two by two blocks (16 degrees of freedom), times 1.3.
//
// 1e-9 a frame is one false suspect in 193 days at 60 frames a second, and a
// suspect is no divergence yet. It is a promise for normal noise only. What was
// set by measuring instead, and on what:
//
//   - tailFactor: thresholds up to 1.5 times as wide where the noise is below
//     1.5 levels, because a codec's steps are not normal: 100,000 synthetic pairs,
//     JPEG of quality 50 to 90.
//   - groupFactor (1.3): a sprite under noise of 20 levels and JPEG 50.
//   - the floor of 0.75 levels and the 3 levels of a codec: JPEG 50 and x264 at crf
//     18, 23 and 28, presets ultrafast to medium. At crf 28 the noise between two
//     captures of the same is 2 to 2.5 levels and a sprite gone stands 2 times
//     and more above the threshold.
//   - leapRatio: x264 shows in the pictures before a difference, which it
//     predicts from those after it, up to a sixth of it.
//
// Colour crosstalk of a composite signal, whose phase differs from run to run,
// was tried up to 24 levels of luma for saturated colours, with the phase
// turning by a third each line and frame. A wave of 1.5 pixels keeps a quarter of
// itself in a mean over 4 pixels, and of that a quarter over 4 lines; so what
// is left, 1.5 levels, is no more than the noise of the blocks with such
// colours. Noise kept apart by the frame's number modulo 2 or 3 would gain
// nothing and is not kept.
//
// # When a difference counts
//
// A difference counts when more than half of the next 8 frames seen by both (of
// those there are, at the end) differ too, in that place, or on from there
// without a pause, and one of the last three does; or when the consoles were
// given other buttons at or before it and one of them does. Otherwise it is a
// Suspect of the kind flicker, which is counted and no divergence. The place is
// followed block by block by a weaker threshold (1e-5 over 32 blocks), which also
// finds the first frame, up to 8 before.
//
// The read logs say on which frames two consoles were given other buttons: what
// a read gave holds until the next one, so a read that was missed or had no data
// parts the input where the program's buttons next change. A difference that
// begins on such a frame or within two after it, and does not look like trouble
// of the capture or lasts three pictures in a row, is where the runs part, even
// if they agree again and part for good much later. How often a read was latched
// gives the console nothing else and explains no picture.
//
// Suspects that do not look like trouble of the capture, 12 or more within 60
// frames, are no flicker: the runs part at the first of them, as kind picture. The
// console strobes, or a card damages pictures in a way not known here; which,
// cannot be told, so no part of the bench is named.
//
// A picture that looks like trouble of the capture neither counts nor confirms:
//
//   - torn or given again: across a line one part is the frame's own picture and
//     the other that of the frame before or after;
//   - damaged: where it differs, it is unlike the same run's pictures before and
//     after, and the other run hardly moves there.
//
// One thing that is a step behind looks torn, too: so it counts when pictures
// that do not look like trouble go on to differ in that place (and hardly
// elsewhere, if the runs agreed on a picture between), or more than half of the
// next 24 look so. When the runs agree again, on the same frames and on pictures
// that move, and at most 4 pictures differed, or 8 with one that looks like
// trouble, or half of those that did look so, or one run stood still all the while
// (a card that froze), it was a flicker; but not where the consoles were given
// other buttons. A console that leaves another picture for longer and then
// agrees again is told as picture, and so is a recording damaged for as long in
// a way that is not known here. Trouble in the very place and right before a
// divergence can be taken for its first frame; Since and Frame bound it when
// pictures between were set aside. In a run with two suspects or more, a first
// picture that differs in other places than the next one does, and looks like
// trouble there, is not taken for whole: Frame is then the next, Since its own.
//
// Pictures of one run that show nothing, 12 in a row or more with what was not
// seen between them, while the other shows something, are a lost signal or an
// empty screen: which, cannot be seen, so nothing is said of those frames.
//
// # Shifts
//
// From a confirmed difference on, and from a Suspect whose picture is one of the
// other run's, b's pictures are looked for among a's up to 120 frames before and
// after. Only pictures that differ from the one before count, so that a still
// scene fakes nothing: a shift is found when 8 more of them agree than 4 times
// those that do not, and no other shift is half as good, or with 24 the nearest
// to none (a scene that repeats itself). Where the pictures end, three that moved
// are enough when every one to the end agrees and no two in a row do at another
// shift: one or two may be repeats of the card. The search ends after 900 frames. The
// runs are then compared at that shift, to the end, to see whether it stays,
// ends, or changes. It needs no alignment of whole sequences. At most 250,000
// pairs of pictures, and 16 more a frame, are compared in looking for shifts; a
// warning says when that was not enough.
//
// # Kinds
//
//	input    the read logs differ at or before the first picture that differs:
//	         a missed or extra read, another state served, another count of clock
//	         pulses for a latch pulse, an underrun. frame is that of the picture,
//	         read the first read that differs
//	picture  the pictures differ and the reads before are the same, or there is
//	         no log of them. read is the last one at or before the frame
//	shift    the same pictures k frames later (k > 0) or earlier. When the read
//	         log is the same, b's reads k frames later, the console lagged; when
//	         the reads keep their frames, the card's latency changed. When the
//	         runs agree on no moving picture before unless they are shifted, the
//	         frame clocks contradict one another (Divergence.Clocks), whatever
//	         the frame: then it cannot be told whether the runs part
//	end      one run covers fewer frames: at all, when it is known to have ended
//	         early, else by more than 30. frame is the first that it lacks
//	flicker  a Suspect: a difference that the next frames do not confirm
//
// A missed read and a lag frame of the console look alike in a log. It is a lag
// when all pictures shift as the reads do; when some go on in their own time (a
// clock on the screen), it is a missed read. When the picture differs before
// the reads do, it is told as picture.
//
// Lockstep is about pictures: when the read logs differ and no picture does,
// the runs are in lockstep and a warning says what differs.
//
// The first run of a comparison is the reference: a read that only it has was
// missed by the other. With two runs nobody can know which of them is right.
//
// # Families
//
// A run is compared with the first one; where it parts, with the three families
// most like it of those that parted there, from there on only; and so on up the
// tree. So the work for a run is at most a few times its length, however many
// runs there are. Two chunks of each trace are held at a time, and 320 pictures
// of both runs where they differ.
//
// # JSON
//
// Result marshals to
//
//	{"runs": [names], "frames": N, "unseen": N, "lockstep": bool,
//	 "divergence": null | {"frame": N, "since": N, "read": N, "kind": "...",
//	   "shift": K, "stays": bool, "part": "board|console|card|program|unknown",
//	   "region": [x, y, w, h], "program_line": N, "a": "...", "b": "...", "why": "..."},
//	 "families": [{"runs": [names], "from": N, "parent": N}],
//	 "suspects": N, "warnings": [sentences]}
//
// frames is what the longest run covers; unseen is summed over the runs
// compared with the first; divergence is the earliest from the first run;
// since is before frame when frames between were unseen; read is -1 and
// program_line 0 when unknown; parent is the index of the family it parted
// from, -1 for the first. warnings is left out when there are none.
//
// # Not for
//
// It does not say whether a picture is right, only whether two runs agree.
package lockstep
