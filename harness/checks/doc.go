// Package checks holds the kinds of checkpoints: what a spec can ask of one
// screen. It knows no frames, no runs and no files but templates; the harness
// decides which screens are looked at and when.
//
// # Kinds
//
//	shows  a template stands on the screen
//	hides  a template does not stand on the screen
//	black  the whole screen is black
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
//	score     the threshold, 0.1 to 1. Default: 0.9.
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
//	c / √(c² + σ²)
//
// (attenuation of a correlation by error: C. Spearman, "The proof and
// measurement of association between two things", American Journal of
// Psychology 15, 1904; measured in threshold_test.go). At the default of 0.9
// the template is still found while c is at least 2.07 σ: with a noise of 20
// levels, when its contrast c is 42 levels or more. A sprite of full contrast
// has 60 to 100. For a faint template give a lower score in both kinds: a
// `hides` whose template is drowned by noise holds without meaning anything.
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
// may be called from several goroutines at once.
//
// Look does no more work than the verdict needs: with near it scores
// (2·within+1)² places. Explain also searches the whole screen, and is meant
// for the one screen that a report shows.
//
// # Not for
//
// Nothing is learned or tracked from screen to screen, and nothing here says
// "unseen": a screen that was not captured never comes here.
package checks
