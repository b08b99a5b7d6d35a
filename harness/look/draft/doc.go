// Package draft writes a first spec from a recorded run.
//
// # What is proposed
//
// A checkpoint for each mark of the program: a template that stands on the screen
// of the mark's frame, at its place. When that frame was not seen, the next frame
// seen takes its place, up to Late reads later, and the checkpoint's moment says
// so. When the program has no marks, or the run cannot place them, the frames of
// the largest changes of scene are taken instead, as frame numbers. A black screen
// becomes `black`. The first change of scene becomes the anchor, when a template
// can be found that no picture before it shows.
//
// # How a template is chosen
//
// Candidates are squares and rectangles on a grid of 8 pixels.
//
//	contrast    standard deviation of the luma; under MinContrast a candidate is
//	            dropped
//	corners     the smaller eigenvalue of the structure tensor, summed over the
//	            candidate (J. Shi and C. Tomasi, "Good features to track", CVPR
//	            1994): it is large only where a step in any direction changes the
//	            picture, so that a template has one place and not a line of them.
//	            The best that do not overlap by half go on
//	uniqueness  the best score anywhere else on that screen (package look), and
//	            anywhere on the screens of the other marks. The margin is the
//	            weakest right score less the larger of the two
//	stability   the score at its place on the two frames before and the two after
//
// The largest margin wins; one that stands on all neighbours counts half as much
// again. A candidate whose
// second-best place on its own screen scores MaxSecond or more is never taken: a
// place nearby that looks the same makes `near` a matter of luck.
//
// # The place
//
// Checkpoints ask for the very pixel (within: 0): one step of a thing more or
// less must show. The anchor has a pixel to spare (within: 1), for it must be
// found on whatever bench the spec is played. So have all when the capture is
// woven of two fields: they lie half a line apart, a frame may fall on either, and
// a template must be found on the screen half a line away as well.
//
// # The threshold
//
// No `score` is written when the default leaves room. Otherwise, and always when
// the capture is woven, it is written: half-way between the weakest score of the
// thing (on neighbouring frames on which it stands unchanged, and half a line
// away) and the best wrong one.
//
// # What it is not for
//
// It is a beginning: it knows what sets a picture apart, not what matters in the
// game. It has seen one run; what differs from run to run (a moth, a clock that
// starts at power-on) is found when the spec is played several times.
package draft
