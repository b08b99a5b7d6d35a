// Package checks holds the kinds of checkpoints: what a spec can ask of one
// screen. It knows no frames, no runs and no files but templates; the harness
// decides which screens are looked at and when.
//
// # Kinds
//
//	shows    a template stands on the screen
//	hides    a template does not stand on the screen
//	reads    digits or letters on the screen, by a sheet of glyphs
//	measure  the distance between two named points
//	screen   the whole screen is a reference picture
//	still    the picture does not change over a range
//	black    the whole screen is black
//
// A check answers holds, does not hold, or unsure: that this screen does not
// tell. Unsure is never a pass and never a fail.
//
// A new kind is one new file with a specs.Kind and one line in All. The
// published JSON Schema is then made again by `go generate ./harness/checks`.
//
// # shows and hides
//
// The value is a mapping:
//
//	template  required. A PNG inside the spec's folder, with or without the
//	          ending `.png`. Its alpha channel is a mask (see package vision).
//	          It is cut at the console's own raster.
//	near      [x, y] in raster pixels from the top left: where the template's
//	          top left pixel is expected. Default: anywhere.
//	within    pixels, only with near. The place may differ from near by this
//	          much in x and in y (Chebyshev distance). Default: 0.
//	score     the threshold, 0.1 to 1. Default: by the noise of the picture.
//
// The best score of the places allowed is compared with the threshold. `shows`
// holds when it is at or above it, `hides` holds when it is below: with the
// same keys one of them holds and the other does not. Only the places allowed
// count; a better match elsewhere changes nothing.
//
// # The threshold
//
// The score is a correlation (see package vision), so brightness and contrast
// do not change it and noise lowers it. With c the standard deviation of the
// template's luma and σ that of the noise on the raster, the score of the
// right place is about
//
//	a = c / √(c² + σ²)
//
// (attenuation of a correlation by error: C. Spearman, "The proof and
// measurement of association between two things", American Journal of
// Psychology 15, 1904; measured in threshold_test.go). So the default threshold
// is
//
//	0.9·a, and at least 0.5
//
// with σ measured in the very picture that is judged (Noise): it asks for what
// 0.9 asks for in a picture without noise. Noise takes less from the score of a
// place that has more contrast than the template. There c is that of the place:
// its variance in the picture less σ². When the best place stays below its own
// threshold so, the next best is tried, up to 12; with more of them the answer
// is unsure. The verdict tells the threshold and the noise; the same picture gives
// the same threshold whenever it is judged. Where 0.9·a is below 0.5, which is
// from a noise of 1.5 times the template's contrast on, a template that was not
// found may be drowned: the answer is unsure, and a `hides` does not hold for
// want of sight.
//
// Chances of error: the score of n pixels with independent normal noise has a
// standard deviation of (1-a²)/√n (R. A. Fisher, "On the probable error of a
// coefficient of correlation", Metron 1, 1921). The right place is 0.1·a above
// the threshold. For a sprite of 16x16 pixels and contrast 60 in a noise of 20
// levels that is 15 deviations, and 7.6 when noise is the same in two by two
// pixels; at contrast 20 it is 2.3 of the former: give such a template a score.
// A place that scores s without noise is taken for the right one with the
// chance that s·a + noise reaches 0.9·a: what looks like the template to 0.85 is
// half as far from the threshold as the template itself. Lint tells which these
// are. Noise that is measured too low, because a codec made it alike in
// neighbouring pixels, leaves the threshold nearer to 0.9, never above it.
//
// # reads
//
// The value is a mapping:
//
//	glyphs      required. A PNG inside the spec's folder: a sheet of glyphs as they
//	            look on the raster, with the background that they stand on. Cells
//	            are of one size, in rows from the top left. Alpha is a mask.
//	at          required. [x, y]: the top left pixel of the first cell.
//	digits      required. How many characters are read, 1 to 16.
//	characters  what the cells are. Default: 0123456789. A space is a cell with
//	            nothing in it.
//	cell        [width, height] of a cell. Default: the sheet's width shared among
//	            the characters, and its height.
//	pitch       pixels from one character to the next. Default: the cell's width.
//	score       the threshold of each character. Default: as of shows.
//
// Beside it in the checkpoint:
//
//	equals    the number that must be read, or in quotes the text of all
//	          characters, blanks included
//	at_least  the least number
//	at_most   the greatest number
//
// Without any of them it holds when it can be read. Blanks around a number do
// not count; a text with other characters than digits is no number.
//
// In every cell all glyphs are scored. The best is what stands there when it
// reaches the threshold and is apart from the second best: when the ratio of
// their likelihoods, from what each leaves of the picture unexplained, speaks for
// it by 1e9 to 1 for each of the others (apartBy; four pixels are counted as one,
// for noise that is alike in neighbours). Otherwise the reading is unsure. A cell
// counts as blank, when the sheet has a space, if no glyph reaches the threshold
// and its contrast is under an eighth of the faintest glyph's, noise allowed for.
// A character that is not in the sheet is unsure, unless it looks like one that
// is.
//
// # measure
//
// The value is a mapping of two names under the spec's key `points`:
//
//	from  required. The point that the distance is counted from.
//	to    required. The point that it is counted to.
//
// Beside it in the checkpoint:
//
//	equals     [x, y]: the distance wanted, in whole pixels
//	tolerance  pixels, only with equals: by how much it may be off in x and in y.
//	           Default: 0.
//
// Without equals it holds when it can be measured. A point is a mapping with the
// keys of shows, and `at`: [x, y], a pixel of the template, by default its top
// left one. A point that is not there makes it fail. It is unsure when a
// template fits a pixel beside so nearly as well that noise may decide, by the
// likelihoods of reads; or fits a second place.
//
// # screen
//
// The value is a mapping:
//
//	reference  required. A PNG of the size of the raster inside the spec's folder,
//	           best taken from a run on the same bench (latchproof look).
//	ignore     regions [x, y, width, height] that do not count. Blocks of 8x8
//	           pixels that touch one are left out.
//
// It is the block test of package lockstep, with its features and thresholds (a
// false alarm in 1e-9 of the pictures), for one pair of pictures instead of two
// runs: gain and offset of every plane come from a line through the blocks
// themselves, by least squares over those near it (gain 0.70 to 1.43, middle
// grey up to 40 levels off), and the noise of every class of blocks from the
// median and the upper quartile of what the line leaves over, between 0.75 and 10
// levels. So a difference in most of the picture may pass for noise: therefore
// the luma means must correlate with the reference's by 0.7 besides, when these
// vary at all and it is not a smaller part of the blocks that differs. What moves within 4x4 pixels is not seen, and colour only as means
// over 8x8. A reference that was drawn, or captured through another scaler,
// differs at every edge: those classes of blocks then count as noisy.
//
// # still
//
// The value is true, or a mapping. It needs a range, and takes no `every`.
//
//	ignore  as of screen
//	for     2 or more frames: somewhere in the range the picture stands still for
//	        so many. Default: over the whole range.
//
// Each seen picture is compared with the first one of the range (with `for`, of
// the stretch) by the test of screen. A change of brightness alone, within the
// limits of screen, does not count: a slow fade is still until it leaves them. A
// change that lasts for unseen frames only is not seen.
//
// # black
//
// The value is true, or a mapping with the key
//
//	level  1 to 200. Default: 32.
//
// The screen is divided into blocks of 8x8 pixels that overlap by half. In each,
// the mean luma and the distances of the mean Cb and the mean Cr from 128 are
// taken; the check holds when none of them, in any block, is above the level.
// The mean luma of the screen is then below it too. The mean of a block makes
// noise eight times smaller, so that sensor noise of 20 levels on top of the
// black level 16 of studio range does not light a screen, and a block is small
// enough that one bright letter does; colour counts because a full blue
// has a luma of only 29. Objects of a few pixels stay unseen, and so does a
// picture whose every part is darker than the level.
//
// # Use
//
// specs.Load binds and prepares every check: a template that is missing, no
// PNG, flat, under 2 pixels a side, or larger than the raster is reported at
// its place in the spec. Afterwards a check never changes, and Look and Explain
// may be called from several goroutines at once. `still` is a Series, which
// begins anew in every run.
//
// Look does no more work than the verdict needs: with near it scores
// (2·within+1)² places. Explain also searches the whole screen, and is meant
// for the one screen that a report shows.
//
// # Warnings
//
// Warnings finds what could match the wrong thing: templates of a contrast below
// 10 levels, or of so few pixels that noise alone would match them on one screen
// in a thousand; templates that score at their threshold 3 pixels or more off
// themselves (points of measure: one pixel), or within 0.05 of it on another
// template of the spec, three quarters of it covered; on a picture that is given,
// a second place within 0.1 of the threshold; glyphs that score at the threshold
// on one another. Templates that are only looked for where they cannot meet do not
// count.
//
// # Not for
//
// Nothing is learned or tracked from screen to screen, and nothing here says
// "unseen": a screen that was not captured never comes here.
package checks
