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
// the high bytes. Writer and reader hold one chunk at a time. A file that is
// cut off, damaged or of another version is a *TraceError.
//
// A frame of 256x240 takes about 0.8 KB when the capture has no noise of its
// own and 4 to 5 KB when it has (BenchmarkTrace).
//
// # When two pictures differ
//
// A comparison goes through the frames that both runs saw; frames that one run
// did not see, or not for sure, are counted as unseen and nothing is said of
// them. For each frame:
//
//  1. Gain and offset of every plane, from the first run to the second, come
//     from a least-squares line over the frames before (about the last five
//     count) and, for this frame, up to 2 levels more offset. A slow fade of
//     one run alone by less than that a frame is taken for drift.
//  2. The noise of what is left is measured in this very frame: the blocks are
//     sorted into five classes (dark, and four of rising roughness), and in
//     each the standard deviation is the largest of those that the 50, 90 and
//     97 % quantiles of the absolute residuals give. It is at least 0.75 levels,
//     and at most twice what the class had in the frames before (64 are kept),
//     so that a difference cannot pass for noise. While a class is new it is at
//     most the largest of 3 levels, twice the noise from picture to picture
//     within the runs, and twice that of the other classes. A change of scene
//     in both runs starts this anew.
//  3. A block differs when one feature, the four luma means together, or the
//     two chroma means together are beyond what normal noise of that size
//     passes with a chance of 1e-9 a frame over all tests: 1e-9/(8 blocks)
//     each (Bonferroni), two-sided normal and chi-square quantiles with 4 and 2
//     degrees of freedom. For 960 blocks that is 7.4 standard deviations of one
//     feature, 8.1 for four and 7.7 for two together. Where the noise
//     is small the thresholds are up to 1.5 times as wide (tailFactor), because
//     a codec's steps are not normal; the 1e-9 is a promise for normal noise
//     only. The tests try JPEG of quality 50 to 90.
//  4. The whole picture differs when its noise is 1.3 times the most known of
//     the same classes and once more their range; this finds a background one
//     pixel further that no single block shows, once four frames are known.
//     Such a change, when faint, may be found some frames late.
//
// A difference counts when more than half of the next 8 frames seen by both
// (of those there are, at the end) differ too, or still differ in that place by
// a weaker threshold (1e-5 over 32 blocks); or when the read logs differ at or
// before it. Otherwise it is a Suspect, which is counted and no divergence.
// From a confirmed difference the comparison looks back up to 8 frames, as long
// as the same place is beyond the weaker threshold, for the first.
//
// # Kinds
//
//	input    the read logs differ at or before the first picture that differs:
//	         a missed or extra read, another state served, other counts of latch
//	         or clock pulses, an underrun. frame is that of the picture, read the
//	         first read that differs
//	picture  the pictures differ and the reads before are the same, or there is
//	         no log of them. read is the last one at or before the frame
//	end      one run covers fewer frames: at all, when it is known to have ended
//	         early, else by more than 30. frame is the first that it lacks
//
// Lockstep is about pictures: when the read logs differ and no picture does,
// the runs are in lockstep and a warning says what differs. A missed read and a
// lag frame of the console look alike in a log; when the picture differs first
// it is told as picture.
//
// The first run of a comparison is the reference: a read that only it has was
// missed by the other. With two runs nobody can know which of them is right.
//
// # JSON
//
// Result marshals to
//
//	{"runs": [names], "frames": N, "unseen": N, "lockstep": bool,
//	 "divergence": null | {"frame": N, "since": N, "read": N, "kind": "...",
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
// It does not say whether a picture is right, only whether two runs agree. A
// run that is the same picture some frames later is told as picture, not as a
// shift.
package lockstep
