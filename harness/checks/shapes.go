package checks

import (
	"image"

	"latchproof/specs"
)

// placeShape is a place [x, y].
var placeShape = pairShape{specs.List[int64]{Of: specs.Int{Min: 0, Max: maxSide - 1}, Min: 2, Max: 2, Says: "a place [x, y]"}}

// stepShape is a distance [x, y].
var stepShape = pairShape{specs.List[int64]{Of: specs.Int{Min: -maxSide, Max: maxSide}, Min: 2, Max: 2, Says: "a distance [x, y]"}}

// pairShape is two whole numbers.
type pairShape struct{ list specs.List[int64] }

// Schema describes the pair.
func (p pairShape) Schema() map[string]any { return p.list.Schema() }

// Read reads the pair.
func (p pairShape) Read(v *specs.Value) (image.Point, bool) {
	x, ok := p.list.Read(v)
	if !ok {
		return image.Point{}, false
	}
	return image.Pt(int(x[0]), int(x[1])), true
}

// rectShape is a region [x, y, width, height] with at least one pixel.
type rectShape struct{}

func (rectShape) list() specs.List[int64] {
	return specs.List[int64]{Of: specs.Int{Min: 0, Max: maxSide}, Min: 4, Max: 4, Says: "a region [x, y, width, height]"}
}

// Schema describes the region.
func (r rectShape) Schema() map[string]any { return r.list().Schema() }

// Read reads the region.
func (r rectShape) Read(v *specs.Value) (region, bool) {
	x, ok := r.list().Read(v)
	if !ok {
		return region{}, false
	}
	if x[2] < 1 || x[3] < 1 {
		v.Fail("a region of %d x %d pixels is empty", x[2], x[3])
		return region{}, false
	}
	return region{image.Rect(int(x[0]), int(x[1]), int(x[0]+x[2]), int(x[1]+x[3])), v.Pos()}, true
}

// region is a part of the raster named in a spec.
type region struct {
	image.Rectangle
	pos specs.Pos
}

// maxRegions is how many regions may be ignored.
const maxRegions = 64

// ignoreKey is the key `ignore`.
func ignoreKey[S any](set func(s *S, x []region)) specs.Field[S] {
	return specs.Key[S, []region]("ignore", specs.List[region]{Of: rectShape{}, Min: 0, Max: maxRegions, Says: "a list of regions [x, y, width, height]"},
		"Regions of the raster that do not count, each [x, y, width, height] in pixels. Blocks of 8x8 pixels that touch one do not count either.",
		func(s *S, x []region, _ specs.Pos) { set(s, x) })
}

// inside reports the regions that reach over the raster.
func inside(all []region, w, h int) error {
	var list specs.ErrorList
	for _, r := range all {
		if !r.In(image.Rect(0, 0, w, h)) {
			list = append(list, r.pos.Errorf("region [%d, %d, %d, %d] reaches over the raster of %dx%d", r.Min.X, r.Min.Y, r.Dx(), r.Dy(), w, h))
		}
	}
	if list == nil {
		return nil
	}
	return list
}

func rectangles(all []region) []image.Rectangle {
	out := make([]image.Rectangle, len(all))
	for i, r := range all {
		out[i] = r.Rectangle
	}
	return out
}

// readEvent reads a template of a timing's event: its name, or the mapping of
// `shows`.
func readEvent(v *specs.Value) *target {
	if !v.IsText() {
		return readTarget(v)
	}
	name, ok := templatePath.Read(v)
	if !ok {
		return nil
	}
	t := &target{}
	t.setName(name, v.Pos())
	return t
}

func eventSchema(about string) map[string]any {
	name := templatePath.Schema()
	return map[string]any{"description": about, "oneOf": []any{name, targetFields.Schema()}}
}
