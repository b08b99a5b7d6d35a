package look

import (
	"context"
	"image"
	"slices"

	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// DefaultScore is the threshold when none is given.
const DefaultScore = 0.9

// Reach is how far, in raster pixels in x and in y, a thing may move in a frame
// and still be followed.
const Reach = 12

// maxPlaces bounds the places of one frame.
const maxPlaces = 64

// Query says what is looked for.
type Query struct {
	Template *vision.Template
	In       image.Rectangle // places allowed, Max exclusive; empty: everywhere
	Score    float64         // threshold, -1 to 1
	From, To console.Frame   // both included
}

// Sighting is a place at which the template shows.
type Sighting struct {
	Frame console.Frame
	At    image.Point
	Score float64
}

// Stretch is the frames over which one thing shows.
type Stretch struct {
	Sightings []Sighting // one for every seen frame, in order; never empty
	Unseen    int        // frames between the first and the last without a picture
}

// From is the first frame.
func (s Stretch) From() console.Frame { return s.Sightings[0].Frame }

// To is the last frame.
func (s Stretch) To() console.Frame { return s.last().Frame }

func (s Stretch) last() Sighting { return s.Sightings[len(s.Sightings)-1] }

// Weakest is the sighting with the lowest score.
func (s Stretch) Weakest() Sighting {
	return slices.MinFunc(s.Sightings, func(a, b Sighting) int {
		switch {
		case a.Score < b.Score:
			return -1
		case a.Score > b.Score:
			return 1
		}
		return 0
	})
}

// Places bounds the places that it was at; Max is inclusive here.
func (s Stretch) Places() image.Rectangle {
	r := image.Rectangle{Min: s.Sightings[0].At, Max: s.Sightings[0].At}
	for _, p := range s.Sightings {
		r.Min.X, r.Min.Y = min(r.Min.X, p.At.X), min(r.Min.Y, p.At.Y)
		r.Max.X, r.Max.Y = max(r.Max.X, p.At.X), max(r.Max.Y, p.At.Y)
	}
	return r
}

// Moves says whether it was at more than one place.
func (s Stretch) Moves() bool { return s.Places().Min != s.Places().Max }

// Found is the result of a search.
type Found struct {
	Query     Query
	Stretches []Stretch // by first frame, then place
	Seen      int       // frames of the query with a picture
	Unseen    []Span    // frames of the query without one
	// Best is the best sighting of all, also below the threshold; its Frame is -1
	// when no frame was seen.
	Best Sighting
	// Shows has, for every frame from Query.From on, what was found.
	Shows []Show
}

// Show is what a search found on one frame.
type Show byte

// What a search finds on a frame.
const (
	NoPicture Show = iota // unseen; the zero value
	Absent
	Present
)

// Span is a run of frames, both ends included.
type Span struct{ From, To console.Frame }

// Find looks for a template on every frame of the query; To is cut to the run's
// last frame. Progress is told the frame now and then and may be nil. Errors:
// those of vision.Template.Match (a template larger than the raster, or no place
// allowed on it), and of Run.Screens.
func Find(ctx context.Context, r *Run, q Query, progress func(console.Frame)) (*Found, error) {
	q.From, q.To = max(q.From, 0), min(q.To, r.Last)
	blank := screen.New(r.Raster().Dx(), r.Raster().Dy())
	if _, err := q.Template.Match(blank, q.In); err != nil {
		return nil, err
	}
	out := &Found{Query: q, Best: Sighting{Frame: -1, Score: -2}}
	if q.To < q.From {
		return out, nil
	}
	out.Shows = make([]Show, q.To-q.From+1)
	var follow follower
	err := r.Screens(ctx, func(f console.Frame) bool { return f >= q.From && f <= q.To }, func(f console.Frame, s *screen.Screen) error {
		if progress != nil && f%32 == 0 {
			progress(f)
		}
		best, all, err := places(q.Template, s, q.In, q.Score)
		if err != nil {
			return err
		}
		best.Frame = f
		if best.Score > out.Best.Score {
			out.Best = best
		}
		out.Seen++
		out.Shows[f-q.From] = Absent
		if len(all) > 0 {
			out.Shows[f-q.From] = Present
		}
		follow.frame(f, all)
		return nil
	})
	if err != nil {
		return nil, err
	}
	out.Stretches = follow.done()
	for i, s := range out.Shows {
		f := q.From + console.Frame(i)
		switch n := len(out.Unseen); {
		case s != NoPicture:
		case n > 0 && out.Unseen[n-1].To == f-1:
			out.Unseen[n-1].To = f
		default:
			out.Unseen = append(out.Unseen, Span{f, f})
		}
	}
	for i := range out.Stretches {
		for f := out.Stretches[i].From(); f <= out.Stretches[i].To(); f++ {
			if out.Shows[f-q.From] == NoPicture {
				out.Stretches[i].Unseen++
			}
		}
	}
	return out, nil
}

// places gives the best place and all at or above the threshold, best first.
func places(t *vision.Template, s *screen.Screen, in image.Rectangle, score float64) (best Sighting, all []Sighting, err error) {
	m, err := t.Match(s, in)
	if err != nil {
		return best, nil, err
	}
	best = Sighting{At: m.At, Score: m.Score}
	half := image.Pt(t.Size().X/2, t.Size().Y/2)
	whole := image.Rect(0, 0, s.W-t.Size().X+1, s.H-t.Size().Y+1)
	if !in.Empty() {
		whole = in.Intersect(whole)
	}
	// Each rectangle of places that is left holds its best place; what lies
	// around that is cut out, and four rectangles remain.
	type part struct {
		in image.Rectangle
		m  vision.Match
	}
	for todo := []part{{whole, m}}; len(todo) > 0 && len(all) < 2*maxPlaces; {
		p := todo[0]
		todo = todo[1:]
		if p.m.Score < score {
			continue
		}
		all = append(all, Sighting{At: p.m.At, Score: p.m.Score})
		if p.m.Second < score {
			continue
		}
		near := image.Rectangle{Min: p.m.At.Sub(half), Max: p.m.At.Add(half).Add(image.Pt(1, 1))}
		for _, rest := range around(p.in, near) {
			m, err := t.Match(s, rest)
			if err != nil {
				return best, nil, err
			}
			todo = append(todo, part{rest, m})
		}
	}
	return best, thin(all, half), nil
}

// around is a rectangle without a hole, as up to four rectangles.
func around(r, hole image.Rectangle) []image.Rectangle {
	hole = hole.Intersect(r)
	if hole.Empty() {
		return nil
	}
	var out []image.Rectangle
	for _, p := range []image.Rectangle{
		{Min: r.Min, Max: image.Pt(r.Max.X, hole.Min.Y)},
		{Min: image.Pt(r.Min.X, hole.Min.Y), Max: image.Pt(hole.Min.X, hole.Max.Y)},
		{Min: image.Pt(hole.Max.X, hole.Min.Y), Max: image.Pt(r.Max.X, hole.Max.Y)},
		{Min: image.Pt(r.Min.X, hole.Max.Y), Max: r.Max},
	} {
		if !p.Empty() {
			out = append(out, p)
		}
	}
	return out
}

// thin leaves out places with a better one within half a template.
func thin(all []Sighting, half image.Point) []Sighting {
	slices.SortStableFunc(all, func(a, b Sighting) int {
		switch {
		case a.Score > b.Score:
			return -1
		case a.Score < b.Score:
			return 1
		}
		return 0
	})
	var out []Sighting
	for _, c := range all {
		d := func(o Sighting) bool {
			p := c.At.Sub(o.At)
			return max(p.X, -p.X) <= half.X && max(p.Y, -p.Y) <= half.Y
		}
		if !slices.ContainsFunc(out, d) && len(out) < maxPlaces {
			out = append(out, c)
		}
	}
	return out
}
