package vision

import "latchproof/vision/screen"

// SearchMargin is the margin that the tests hold Search to.
const SearchMargin = searchMargin

// Search gives the scores of all places as OpenCV computes them.
func (t *Template) Search(s *screen.Screen) ([]float64, error) {
	at, err := t.places(s)
	if err != nil {
		return nil, err
	}
	return t.search(s, at)
}

// Direct gives the scores of all places in integers.
func (t *Template) Direct(s *screen.Screen) []float64 {
	at, _ := t.places(s)
	return t.direct(s, at)
}

// CountBlocks counts the pictures of a Matroska file.
var CountBlocks = countBlocks

// WalkBlocks counts the pictures of a Matroska stream.
var WalkBlocks = walkBlocks

// Container names a video container by its first bytes.
var Container = container

// PlanesOf copies the planes of a picture one after the other.
var PlanesOf = planesOf

// Frames counts the decoded frames that are held.
func Frames() int64 { return frames.Load() }

// ResampleWays allows only some of the ways of resampling: 1 plain C, 2 SSE2, 4
// AVX2; it gives those that this machine can do.
var ResampleWays = resampleWays
