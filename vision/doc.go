// Package vision reads and writes captured video, brings pictures to the
// console's raster and finds templates in them. It is the only part of the
// project that uses native libraries: FFmpeg's libavformat, libavcodec and
// libswscale for video, and OpenCV (through gocv) for templates, PNG and JPEG.
//
// # Pictures
//
// A Picture is a decoded picture: the planes as the decoder gives them, and
// what the stream says about them. An Image is a picture in 8 bits a channel,
// three bytes per pixel in the order B, G, R, rows from the top without gaps.
// A screen.Screen is a picture on the console's raster: full range Y, Cb, Cr
// planes (see package screen). In all of them the origin is the top left pixel,
// x grows to the right and y grows downwards. Rectangles are half open: Max is
// just outside. A place of a template is the raster position of its top left
// pixel.
//
// # From picture to screen
//
// Normalizer.Picture crops the active rectangle and resamples each plane by
// itself in its own resolution, then converts range and matrix to full range
// BT.601. A pixel of the raster that fills the rectangle x0..x1, y0..y1 of luma
// samples is
//
//	Σ P(i, j)·|[x0, x1) ∩ cell(i)|·|[y0, y1) ∩ cell(j)| / ((x1−x0)·(y1−y0))
//
// where luma cell i is [i, i+1), and a chroma cell is as wide as the luma
// samples that it stands for, around the place where the sample is sited
// (siting.go). On an axis where a pixel is smaller than a cell it is
// interpolated linearly between the centres of cells. Samples whose cells lie
// wholly outside of the active rectangle never count.
//
// The arithmetic has weights in 1/65536 and sums in 1/256 of a level; each
// product is cut to 1/256, half of which is made up for in the mean. With t
// weights on both axes together the sum is off by less than (t+1)/512 of a
// level (resample_test.go finds 0.02 at eight to one). One rounding to 8 bits
// follows, after range and matrix.
//
// Normalizer.Screen does the same to an Image by way of OpenCV, in B, G, R and
// with a rounding in between; it is for pictures that come from no video.
//
// A field of a woven picture (Lines) is every other row, as a picture of its
// own.
//
// # Scores
//
// A template is compared on luma by the zero-mean normalised
// cross-correlation, called TM_CCOEFF_NORMED in the OpenCV documentation
// (J. P. Lewis, "Fast normalized cross-correlation", Vision Interface, 1995).
// With n used pixels, sums S over them, T the template and I the picture:
//
//	score = (n·S(TI) − S(T)·S(I)) / √((n·S(TT) − S(T)²)·(n·S(II) − S(I)²))
//
// The score lies in −1..1: 1 is the same pattern, 0 is unrelated, −1 is the
// negative. Brightness and contrast of the picture do not change it. Over a
// flat patch (no variance) the formula is 0/0 and the score is 0. Scores that
// are reported are computed in integers, so they do not depend on the size of
// the search or on the machine.
//
// # Thresholds
//
// A template is there when its score is at or above the threshold (>=), and
// gone when its best score is below it (<). One and the same score never
// counts as both.
//
// # Masks
//
// An alpha channel is a mask: a pixel with alpha below 128 is not used, all
// others count fully. The colour under an unused pixel does not matter.
//
// # Reading video
//
// Files are opened by FFmpeg only when their first bytes are those of a known
// video container, with the demuxer for that container, and with no protocol
// but that of plain files: a text, a playlist, a picture or an address is
// refused, never tried.
//
// Opening reads all packets once, without decoding (ScanVideo). Their times give
// every picture its number in the order of showing, and Read keeps to that:
// there is one picture for each packet that is to be shown, whatever the decoder
// makes of it. Packets behind an edit list and hidden VP8 references count as
// none. Stamps are counted from the first picture and exact to the time base of
// the file; they may be uneven. Two pictures with the same time stay in the
// order of the file.
//
// A picture is Damaged when the container or the decoder says so, in whatever
// way: by its flags, by an error message while that packet was decoded, by
// giving none or one of another size. In a codec with prediction so is every
// later picture up to the next key picture, unless nothing is predicted from the
// damaged one. A picture that cannot be decoded at all has no pixels. H.264 and
// Motion JPEG have no check sums: changed bytes that still make a valid picture
// cannot be told. Of the pictures that differ after eight random bytes in three
// packets are changed, a half or more of H.264's and nearly all of Motion JPEG's
// are told, and all of FFV1's with check sums (read_test.go counts them).
//
// Decoding uses all cores where the codec's decoder can (H.264, FFV1; not Motion
// JPEG). Pictures larger than 2^25 pixels are not decoded.
//
// # Writing video
//
// Recordings are Matroska files with Motion JPEG (small and fast, lossy), FFV1
// (exact and slow) or H.264; see RecordOptions. The file is written by this
// package: one video track; stamps at k/rate or as given, rounded to 1 ms;
// clusters of a second or more that begin with key pictures; duration, index and
// seek head when it is closed; no date and no random identity number. When the
// program is killed they are missing, and every picture that was written can
// still be read; OpenVideo then knows no promised number of pictures, and ends
// with io.EOF.
//
// A Recorder also takes what a card delivers: coded pictures byte for byte
// (WriteCodedAt) and YUYV or NV12 sample by sample in FFV1 (WriteRawAt). Still
// decodes such pictures one by one, without a file.
//
// # Not for
//
// Matching does not search over scale or rotation and does not look at
// colour: two things that differ in colour difference only look alike.
// A patch whose contrast is a level or two is matched like any other; decide
// by the noise of the capture whether that means something.
//
// Video: it plays no sound, and does not read from cameras, addresses or growing
// files. A stream in which the two fields of a picture are packets of their own
// is not put together: each packet would count as a picture.
// Matrices other than BT.601, BT.709, BT.2020, FCC and SMPTE 240M are taken for
// BT.601, and transfer functions are not looked at.
//
// The libraries' own messages on stderr are silenced when this package is
// loaded, because every failure is reported as a Go error. Set
// LATCHPROOF_DECODER_MESSAGES=1 or OPENCV_LOG_LEVEL to get them back.
package vision
