// Package flash finds the stretches of a run in which the picture flashes so
// that people with photosensitive epilepsy must be warned, by the definition
// "general flash and red flash thresholds" of WCAG 2.2 (W3C, Web Content
// Accessibility Guidelines 2.2, success criterion 2.3.1).
//
// # What counts
//
//	general   a pair of opposing changes of relative luminance of 0.10 or more
//	          (of a maximum of 1), the darker state below 0.80. A change is from
//	          a peak to the next valley or back, however many frames it takes;
//	          smaller ripples on the way do not end it
//	red       a pair of opposing changes to or from a saturated red: one state has
//	          R/(R+G+B) >= 0.8 and the two are more than 0.2 apart in the CIE 1976
//	          (u', v') diagram. R, G, B are linear, 0 to 1
//
// Relative luminance is 0.2126 R + 0.7152 G + 0.0722 B of linear sRGB. The
// standard gives black no chromaticity; here that of a colour with R+G+B below
// 0.01 is taken to be that of white, so red on black counts (our choice, no
// source). A red too dark for the earlier text of the standard to count against
// black (WCAG 2.0: (R-G-B) x 320 more than 20) is not taken as saturated, for the
// noise of a dark picture has every chromaticity.
//
// Flashes count when they occur concurrently: a change is counted where it comes
// together with others. Either the changes of one direction within a tenth of a
// second outweigh those of the other by more than a quarter of a field (see Area),
// or the changes on one frame, whatever their direction, are more than that. The
// standard does not say how near in time is concurrent; with this rule a flash may
// take some frames to come over a picture, a checkerboard that is turned round
// counts, and a texture that scrolls past, whose places change one after the other,
// does not (our choice, no source).
//
// A flash falls on the frame at which its second change reaches its threshold. A
// stretch is told where more than three flashes fall on less than one second of
// frames, at the frame rate of the run's clock. So regular flashing is told from
// just above three a second on; to wait for four flashes that lie in the second
// with both of their changes would be to wait for three and a half. Two changes a
// second apart, or more, are no pair.
//
// # Area
//
// The standard allows any flashing of no more than 25 % of any visual field of 10
// degrees. How large a raster will be seen is not known, so its own default is
// used: a rectangle of 341 by 256 pixels anywhere on a screen of 1024 by 768,
// which is about a third by a third of the raster, at 85.25 by 80 pixels of a
// raster of 256 by 240. Of such a rectangle, anywhere, more than a quarter must
// flash. What flashes is told in cells of 4 by 4 pixels of the raster; a cell
// counts when it has more than three flashes in the same second as the others.
//
// # Screens and traces
//
// Screens give the mean of linear light over each cell. Traces (package lockstep)
// hold means of coded luma over each cell and of coded colour over 2 by 2 cells:
// the same for cells of one colour, but a cell that is half black and half white
// counts as grey 128, luminance 0.216 and not 0.5, and colour is that of 8 by 8
// pixels.
//
// # What it can miss
//
//	patterns that change only within 4x4 pixels, such as a checkerboard of single
//	pixels that swap. The standard exempts fine balanced patterns with squares
//	below 0.1 degree, which are 0.85 raster pixels of 256 by that rule
//	flashes on another place each time: no cell has more than three
//	gradual flashes of which each part comes more than a tenth of a second after
//	another, and what moves so that it changes place after place
//	flashes between two pictures: frames without a picture are bridged, as if the
//	picture before had stayed. How many there were is told
//	red in a trace of woven pictures whose colour is left out (package judge)
//	steady patterns (stripes), which the definition does not speak of
//
// A stretch that is told is a reason for a caution; that none is told does not
// make a recording safe for everybody. The limits of broadcasters (Recommendation
// ITU-R BT.1702) are for a display of known brightness and are not checked.
//
// Memory and time are bounded by the raster and one second of frames; nothing
// grows with the run but the list of stretches.
package flash
