package matchers

import (
	"errors"
	"image"

	"latchproof/harness/checks"
	"latchproof/vision"
)

// Point is a pixel of a template, found where the template stands.
type Point struct {
	file  string
	point checks.Point
}

// PointIn is the top left pixel of the template of that PNG file.
func PointIn(file string) Point { return Point{file: file} }

// Pixel is the pixel (x, y) of the template instead.
func (p Point) Pixel(x, y int) Point { p.point.Pixel = image.Pt(x, y); return p }

// Near wants the template's top left pixel within a few pixels of (x, y) of the
// raster.
func (p Point) Near(x, y, within int) Point {
	p.point.Place = &checks.Place{Near: image.Pt(x, y), Within: within}
	return p
}

// Scoring sets the threshold of the template's score, 0..1. Without it, it
// follows from the noise of the screen.
func (p Point) Scoring(threshold float64) Point { p.point.Score = threshold; return p }

// DistanceMatcher asks how far one point is from another.
type DistanceMatcher struct {
	want      image.Point
	tolerance int
	from, to  *Point
	onScreen
}

// MeasureDistance succeeds when the second point lies dx pixels to the right of
// the first one and dy pixels below it. From and To name the points.
func MeasureDistance(dx, dy int) *DistanceMatcher {
	return &DistanceMatcher{want: image.Pt(dx, dy)}
}

// From is the point that the distance is counted from.
func (m *DistanceMatcher) From(p Point) *DistanceMatcher { m.from = &p; return m }

// To is the point that it is counted to.
func (m *DistanceMatcher) To(p Point) *DistanceMatcher { m.to = &p; return m }

// GiveOrTake lets the distance be off by n pixels in x and in y.
func (m *DistanceMatcher) GiveOrTake(n int) *DistanceMatcher { m.tolerance = n; return m }

// Match implements the library's matcher. actual is a *screen.Screen. A point
// whose place is not certain is an error (checks.ErrUnsure).
func (m *DistanceMatcher) Match(actual any) (bool, error) {
	if m.from == nil || m.to == nil {
		return false, errors.New("two points are needed: name them with From and To")
	}
	var points [2]checks.Point
	for i, p := range []*Point{m.from, m.to} {
		t, err := vision.LoadTemplate(p.file)
		if err != nil {
			return false, err
		}
		points[i] = p.point
		points[i].Template = t
	}
	m.check = checks.NewMeasure(points[0], points[1], &m.want, m.tolerance)
	return m.onScreen.Match(actual)
}
