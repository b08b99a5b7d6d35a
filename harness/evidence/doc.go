// Package evidence keeps the pictures that the verdicts of a run rest on, and
// judges a run anew from them when its video is not at hand.
//
// # Which pictures
//
// Pictures are named by their index in the capture (frames.csv):
//
//	a checkpoint of one frame        the picture of that frame
//	a range, some frame in it        the picture that decided
//	a range, every frame in it       all pictures of a range of at most 16 frames;
//	                                 of a longer one the first, the last and the
//	                                 one nearest to failing
//	still                            the same
//	an event of the timing           the picture that shows it and those before it
//	                                 back to the last one that tells that it had
//	                                 not come yet, at most 64
//	the anchor                       its picture, and those before it back to the last
//	                                 one that it cannot be a repeat of
//
// At most 1000 of a run, in the order of this list but for the timing and the
// anchor, which come first. What is left out rests on the video, as does whatever
// only pictures in between can tell: that an event did not come sooner, that the
// other pictures of a long range hold, too. Judge names these things; everything
// else it judges by the same code that judged the video (judge.Watch).
//
// # The file of a picture
//
// A PNG (ISO/IEC 15948) of 8-bit grey, as wide as the raster and three times as
// high: the luma plane of the judged screen (package vision/screen), below it Cb,
// below that Cr. So every judged byte comes back, which no R'G'B' picture of these
// planes could promise, and whoever opens it sees the screen in grey. The name is
// the index with six digits or more, and .png.
//
// Reading takes no more memory than the raster asks for: sizes come from the
// head of the file before anything is unpacked.
//
// # What ties a picture to its frame
//
// The trace of a run (package lockstep) holds the block means of the picture of
// every frame. Those of a kept picture must be these, to the last unit, colour left
// out where the trace has none (fields that share it). A picture that stands for no
// frame (unsure) is in no trace, and is not kept but for the anchor.
//
// # Not for
//
// It checks no signatures and no hashes: see packages attest, bundle and verify.
// That frames.csv names repeats and damaged pictures rightly rests on the video.
package evidence
