// Package look is for looking into a recorded run: the screens of its frames, and
// where a template shows.
//
// # Frames
//
// Frames are those of frames.csv, which the run was sealed with: only a picture
// that stands for a frame (state fresh) is the picture of that frame. A frame
// without one is unseen and is never replaced by a neighbour. A moment such as
// jump+14 is placed by the run's own program and its own read log.
//
// # Finding
//
// Find searches the whole screen, or the places allowed, on every frame seen, in
// one pass over the video. A place counts when its score (package vision) is at
// or above the threshold and no better place lies within half the template's
// width and half its height of it. Places on neighbouring seen frames that are at
// most Reach apart are one stretch: the same thing, standing or moving. Frames
// unseen do not end a stretch, but are counted in it; a seen frame without the
// template does.
//
// # Cuts
//
// Weigh says how good a template is on the screen that it was cut from: its
// contrast (standard deviation of the luma of its used pixels, levels), and the
// second-best place on that screen. Margin is the distance from the score of its
// own place, 1, to the second best.
//
// # Not for
//
// It judges nothing: verdicts come from package judge. It sees luma only, as
// vision does. Pictures for people are drawn in look/draw, specs are drafted in
// look/draft.
package look
