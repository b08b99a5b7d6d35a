// Package matchers lets specs written in Go ask what a run showed, with
// Gomega:
//
//	Expect(screen).To(ShowTemplate("gate.png").Near(40, 176).Within(1))
//	Expect(screen).To(HideTemplate("garbage-tile.png"))
//	Expect(screen).To(BeBlack())
//	Expect(run).To(PassCheckpoint("stands at the gate"))
//	Expect(run).To(StayInLockstepWith(other))
//	Expect(repeats).To(StayInLockstep(5))
//
// A matcher answers (false, nil) when the picture differs, and gives an error
// when nothing can be said: a template that cannot be used, or a frame of
// which the capture has no picture (errors.Is(err, judge.ErrUnseen)). Messages
// carry the frame, the score, the threshold and the best place found.
package matchers
