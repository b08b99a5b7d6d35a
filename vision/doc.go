// Package vision reads and writes captured video, brings pictures to the
// console's raster and finds templates in them. It is the only part of the
// project that uses OpenCV (through gocv).
//
// # Pictures
//
// An Image is a captured picture as the decoder gives it: 8 bits a channel,
// three bytes per pixel in the order B, G, R, rows from the top without gaps.
// A screen.Screen is a picture on the console's raster: full range Y, Cb, Cr
// planes (see package screen). In both the origin is the top left pixel, x
// grows to the right and y grows downwards. Rectangles are half open: Max is
// just outside. A place of a template is the raster position of its top left
// pixel.
//
// # From picture to screen
//
// A Normalizer crops the active rectangle first, then resamples B, G, R by
// area (every raster pixel is the area-weighted mean of the captured pixels
// that it covers), then converts the colour. Cropping first keeps the border
// from bleeding into the raster.
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
// # Video
//
// Files are decoded by FFmpeg inside OpenCV, and only when their first bytes
// are those of a known video container: a text, a playlist or a picture is
// refused, never tried.
//
// Recordings are Matroska files with Motion JPEG (small and fast, lossy) or
// FFV1 (exact and slow, through OpenCV's writer). A Motion JPEG file is written
// by this package: one video track of whole JPEG pictures (codec V_MJPEG),
// either compressed here (JPEGQuality, 4:2:0) or taken over as they are; stamps
// at k/rate, rounded to 1 ms; clusters of a second; duration, index and seek
// head when it is closed; no date and no random identity number. When the
// program is killed they are missing, and every picture that was written can
// still be read; OpenVideo then knows no number of pictures, and ends with
// io.EOF.
//
// # Not for
//
// Matching does not search over scale or rotation and does not look at
// colour: two things that differ in colour difference only look alike.
// A patch whose contrast is a level or two is matched like any other; decide
// by the noise of the capture whether that means something.
//
// The library's own messages on stderr are silenced when this package is
// loaded, because every failure is reported as a Go error. Set
// OPENCV_FFMPEG_LOGLEVEL or OPENCV_LOG_LEVEL to get them back.
package vision
