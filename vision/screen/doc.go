// Package screen holds one picture on the console's own raster, and the plain
// helpers around it. It uses no native library.
//
// # Format
//
// A Screen has three planes of W*H bytes: Y (luma), Cb and Cr (colour
// differences), none of them subsampled. The origin is the top left pixel, x
// grows to the right, y grows downwards, and the byte of pixel (x, y) is at
// y*W+x.
//
// # Colour
//
// The planes are full range: luma 0..255, colour differences 0..255 with zero
// at 128. The coefficients are those of Recommendation ITU-R BT.601
// (Kr = 0.299, Kb = 0.114); full range coding with these coefficients is that
// of Recommendation ITU-T T.871 (JFIF):
//
//	Y  = 0.299 R + 0.587 G + 0.114 B
//	Cb = 128 + (B - Y) / 1.772
//	Cr = 128 + (R - Y) / 1.402
//
// computed in 16-bit fixed point and rounded to nearest; Cb and Cr are
// clamped to 255.
// A grey (R = G = B = v) becomes exactly Y = v, Cb = Cr = 128, and back.
// Colours come back within 2 levels per channel, or further where a
// component had to be clamped.
//
// # Not for
//
// It does not scale, compare with noise, or search; see the packages vision
// and harness/lockstep. It is not a general image library.
package screen
