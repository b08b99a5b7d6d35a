// Package matchers lets specs written in Go ask what a run showed, with
// Gomega:
//
//	Expect(screen).To(ShowTemplate("gate.png").Near(40, 176).Within(1))
//	Expect(screen).To(HideTemplate("garbage-tile.png"))
//	Expect(screen).To(BeBlack())
//	Expect(screen).To(ReadNumber(6).By("hud-digits.png").At(200, 16).Digits(2))
//	Expect(screen).To(MeasureDistance(1, 0).From(PointIn("toes.png").Pixel(13, 23)).To(PointIn("cart.png")))
//	Expect(screen).To(LookLike("street.png").Ignoring(image.Rect(200, 8, 248, 24)))
//	Expect(screens).To(StandStill())
//	Expect(run).To(PassCheckpoint("stands at the gate"))
//	Expect(run).To(TakeFrames(784))
//	Expect(run).To(StayInLockstepWith(other))
//	Expect(repeats).To(StayInLockstep(5))
//
// A matcher answers (false, nil) when the picture differs, and gives an error
// when nothing can be said: a template that cannot be used, a frame of which the
// capture has no picture (errors.Is(err, judge.ErrUnseen)), or a screen that does
// not tell, such as a digit between two glyphs (checks.ErrUnsure). Messages carry
// the frame, the score, the threshold and the best place found. Files are named
// as for package os, not as in a spec.
//
// specs/evening_test.go is a whole spec written so: it plays a program and asks
// of the screens of its runs (package harness/look).
package matchers
