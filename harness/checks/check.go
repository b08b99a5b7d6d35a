package checks

import (
	"errors"
	"image"

	"latchproof/vision/screen"
)

// Sight is what a check found on one screen.
type Sight struct {
	// Holds says whether the screen is as the check wants it.
	Holds bool
	// Unsure says that this screen does not tell whether the check holds: a
	// digit that fits two glyphs, a template drowned by noise. Why says why. It
	// goes with Holds false, and is neither a pass nor a fail.
	Unsure bool
	// Found says whether the thing looked for is there: the template at or above
	// the threshold, for black something lighter than the level.
	Found bool
	// Score is the best score of the places allowed, -1..1, the lowest of them
	// when there are several things to find; for black the level of the lightest
	// block, 0..255; for screen and still by how many times a block differs more
	// than it may.
	Score float64
	// Threshold is what Score was compared with, By where it comes from, and
	// Noise the noise it was derived from, levels; 0 when it was given.
	Threshold float64
	By        string
	Noise     float64
	// Value is what was read (an int, or a string) or measured ([2]int: x and y in
	// pixels); nil when there is none.
	Value any
	// At is the place of Score, the top left pixel on the raster, and Size the
	// pixels that it covers.
	At, Size image.Point
	// Why says in plain words how Score and Threshold compare.
	Why string
	// Seen says what is there, such as "gate at (40, 176)"; empty for nothing.
	Seen string
	// Best and BestAt are the best score anywhere on the screen and its place.
	// Only Explain sets them; Searched says so.
	Best     float64
	BestAt   image.Point
	Searched bool
}

// Check is a checkpoint's check, as the kinds of All decode it.
type Check interface {
	// Kind is the key of its kind, such as "shows".
	Kind() string
	// Prepare reads the templates. specs.Load calls it; more calls give the same
	// answer. The error is a specs.ErrorList placed in the spec.
	Prepare() error
	// Look judges a screen of the console's raster. The error is ErrRaster or
	// ErrNotPrepared: never an answer about the picture.
	Look(s *screen.Screen) (Sight, error)
	// Explain is Look with more to say when the check does not hold. It is slower.
	Explain(s *screen.Screen) (Sight, error)
	// Templates are the files it needs, relative to the spec's folder.
	Templates() []string
	// Describe says in plain words what is wanted.
	Describe() string
}

// Series is a check that judges the pictures of a range together. Look and
// Explain know only the last picture, and say that nothing can be told.
type Series interface {
	Check
	// Every says whether all frames must hold; otherwise one is enough.
	Every() bool
	// Begin begins a run. The watch it gives is for one goroutine.
	Begin() Watch
}

// Watch is a Series in one run.
type Watch interface {
	// Look judges the next picture. Frames must ascend.
	Look(frame int64, s *screen.Screen) (Sight, error)
}

// Errors of Look and Explain.
var (
	// ErrNotPrepared says that the check was not made by specs.Load.
	ErrNotPrepared = errors.New("check is not prepared: load the spec with specs.Load")
	// ErrUnsure says that a screen does not tell whether a check holds; Look and
	// Explain set Sight.Unsure instead.
	ErrUnsure = errors.New("this screen does not tell")
	// ErrRaster says that the screen does not have the size of the raster.
	ErrRaster = errors.New("screen is not of the console's raster")
)
