package reports

import "fmt"

// partView is a divergence as the page shows it.
type partView struct {
	ID       string
	Of       string // as specView.Of
	D        Divergence
	First    bool
	Frame    string
	Since    string // why the first frame may be an earlier one
	Family   string
	Words    string // the kind, in words
	Shape    string
	Read     string
	Where    string // the region, in words
	A, B     name
	PA, PB   *shown
	Diff     *shown // where the two differ, brightened
	Points   string // which part of the bench the evidence points to
	Missing  string // why there are no pictures
	Rows     []ReadAt
	Differ   int
	PartLine int64
	Window   *windowView // nil: nothing to step through
}

// widePart is how many page pixels one of the two pictures may take.
const widePart = 512

func buildPart(spec, i int, d Divergence, b *budget) *partView {
	v := &partView{
		ID: fmt.Sprintf("s%d-d%d", spec, i+1), D: d, First: i == 0, Frame: count(d.Frame), Family: familyName(d.Family),
		Words: kindWords(d), Shape: kindShape(d.Kind), A: named(d.A, longName), B: named(d.B, longName),
		Rows: d.ReadRows, PartLine: d.Frame,
	}
	if d.Since < d.Frame {
		v.Since = fmt.Sprintf("Frames %s to %s are not known to be equal, so it may have begun there.", count(d.Since), count(d.Frame-1))
		if d.Since == d.Frame-1 {
			v.Since = fmt.Sprintf("Frame %s is not known to be equal, so it may have begun there.", count(d.Since))
		}
	}
	if d.Read >= 0 {
		v.Read = count(d.Read)
	}
	if d.Region != nil {
		v.Where = place(*d.Region)
	}
	for _, r := range d.ReadRows {
		if r.Differ {
			v.Differ++
		}
	}
	v.PA, v.PB = partPicture(d.PictureA, d.Region, b), partPicture(d.PictureB, d.Region, b)
	if v.PA != nil && v.PB != nil {
		if p := Difference(d.PictureA, d.PictureB); b.take(p) {
			v.Diff = show(p, widePart/2)
		}
	}
	if v.Points = points[d.Part]; v.Points == "" && d.Part != "unknown" {
		v.Points = text(d.Part)
	}
	switch {
	case d.PictureA == nil && d.PictureB == nil:
		v.Missing = "Neither run has a picture of this frame."
	case d.PictureA == nil || d.PictureB == nil:
		v.Missing = "Only one of the runs has a picture of this frame."
	case v.PA == nil || v.PB == nil:
		v.Missing = "A picture was left out: the page is large enough, or it could not be read."
	}
	return v
}

// points says in words what a part of the bench is.
var points = map[string]string{
	"board":   "the feeder board or its wiring",
	"console": "the console",
	"card":    "the capture card",
	"program": "the program",
}

func partPicture(p *Picture, region *[4]int, b *budget) *shown {
	if !b.take(p) {
		return nil
	}
	q := *p
	if region != nil {
		q.Box = region
	}
	s := show(&q, widePart)
	if s != nil && s.Box != nil {
		s.Close = closeUp(p, *s.Box, widePart/2)
	}
	return s
}
