package reports

import (
	"fmt"
	"slices"
)

// maxWindows is how many bytes, before base64, the pictures of all windows of a
// page may take; maxWindow is that of one.
const (
	maxWindows = 4500 << 10
	maxWindow  = 4200 << 10
	firstShare = 8 // the first divergence of a spec counts as so many later ones
)

// leastWindow is the fewest frames that are worth stepping through.
const leastWindow = 2

// windowView is a window as the page shows it: what its template needs, and the
// data of its script.
type windowView struct {
	ID      string
	Of      string // as specView.Of
	Caution string // said when frames of it flash; empty otherwise
	A, B    name
	W, H    int
	Last    int // index of the last frame
	Start   int // index of the frame that is shown first
	Frame   string
	From    string
	To      string
	Scales  []int
	Cut     int    // where the divider stands at first
	Rounded string // how far off the colours are; empty when they are exact
	Level   string
	Data    windowData
}

// windowData is what the script is given. The keys are its own.
type windowData struct {
	W      int           `json:"w"`
	H      int           `json:"h"`
	Start  int           `json:"start"`
	Level  float64       `json:"level"`
	Box    *[4]int       `json:"box"`
	Frames []frameOfData `json:"frames"`
}

type frameOfData struct {
	Frame   int64      `json:"frame"`
	Label   string     `json:"label"`
	Verdict string     `json:"verdict"`
	Tone    string     `json:"tone"` // yes, no, unknown
	Differ  bool       `json:"differ"`
	A       sideOfData `json:"a"`
	B       sideOfData `json:"b"`
}

type sideOfData struct {
	Src     string `json:"src"`
	Alt     string `json:"alt"`
	Unseen  string `json:"unseen"`
	Reads   string `json:"reads"`
	Program string `json:"program"`
	Mark    string `json:"mark"`
}

// addWindows gives the parts their windows, the first ones of each spec first and
// with the largest share.
func addWindows(specs []Spec, parts [][]*partView) {
	total := 0
	each := func(do func(d Divergence, p *partView, share int)) {
		for rank := range maxParted {
			for i, ps := range parts {
				if rank < len(ps) && specs[i].Divergences[rank].Window != nil {
					share := 1
					if rank == 0 {
						share = firstShare
					}
					do(specs[i].Divergences[rank], ps[rank], share)
				}
			}
		}
	}
	each(func(_ Divergence, _ *partView, share int) { total += share })
	left := maxWindows
	each(func(d Divergence, p *partView, share int) {
		v, used := buildWindow(p.ID, d, min(maxWindow, left*share/total))
		p.Window = v
		left -= used
		total -= share
	})
}

// buildWindow fits a window into so many bytes: with exact colours, or rounded
// ones, or with fewer frames. It is nil when nothing fits, or when the two runs
// have no frame with a picture of one size.
func buildWindow(id string, d Divergence, most int) (*windowView, int) {
	if d.Window == nil {
		return nil, 0
	}
	frames := slices.Clone(d.Window.Frames)
	var w, h int
	for i := range frames {
		for _, s := range []*WindowSide{&frames[i].A, &frames[i].B} {
			pw, ph := sides(s.Picture)
			if pw > 0 && w == 0 {
				w, h = pw, ph
			}
			if s.Picture != nil && (pw != w || ph != h || pw == 0) {
				s.Picture, s.Unseen = nil, "its picture could not be read"
			}
		}
	}
	if w == 0 {
		return nil, 0
	}
	frames, step, used := fit(frames, d.Frame, most)
	if len(frames) < leastWindow {
		return nil, 0
	}
	v := &windowView{
		ID: id, A: named(d.A, longName), B: named(d.B, longName), W: w, H: h, Cut: w / 2, Last: len(frames) - 1,
		Frame: count(d.Frame), From: count(frames[0].Frame), To: count(frames[len(frames)-1].Frame), Scales: []int{1, 2, 3, 4, 5, 6, 7, 8},
		Data: windowData{W: w, H: h, Level: level(frames, d.Since), Box: d.Region},
	}
	v.Level = decimal(v.Data.Level, 1)
	for i, f := range frames {
		if f.Frame == d.Frame {
			v.Start = i
		}
		v.Data.Frames = append(v.Data.Frames, dataOf(d, f))
	}
	v.Data.Start = v.Start
	v.Rounded = inexact(frames, step)
	return v, used
}

// inexact says how far off the colours of a window are; empty when they are what
// the comparison saw.
func inexact(frames []WindowFrame, step int) string {
	if step > 1 {
		return fmt.Sprintf("To keep this page small, colours are rounded: each of red, green and blue is at most %d of 255 off.", step/2)
	}
	for _, f := range frames {
		for _, p := range []*Picture{f.A.Picture, f.B.Picture} {
			if p != nil && !pngData(p.Data) {
				return "These pictures were kept as JPEG, which smears colours by some pixels."
			}
		}
	}
	return ""
}

func pngData(b []byte) bool { return len(b) > 8 && string(b[:8]) == "\x89PNG\r\n\x1a\n" }

// fit rounds the colours of frames, and leaves out those farthest from the
// divergent one, until they take at most so many bytes.
func fit(frames []WindowFrame, at int64, most int) (kept []WindowFrame, step, used int) {
	for _, step = range roundings {
		about := guess(frames, at, step)
		if about > most && step < roundings[len(roundings)-1] {
			continue
		}
		for n := len(frames); n > 0 && about > most+most/8; n-- { // so many too many for sure
			frames = slices.Delete(frames, farthest(frames, at), farthest(frames, at)+1)
			about = about * (n - 1) / n
		}
		kept, used = nil, 0
		for _, f := range frames {
			f.A.Picture, f.B.Picture = rounded(f.A.Picture, step), rounded(f.B.Picture, step)
			kept = append(kept, f)
			used += weight(f)
		}
		if used <= most {
			return kept, step, used
		}
	}
	for len(kept) > 0 && used > most {
		drop := farthest(kept, at)
		used -= weight(kept[drop])
		kept = slices.Delete(kept, drop, drop+1)
	}
	return kept, step, used
}

// farthest is the index of the first or the last frame, whichever is farther from
// the divergent one.
func farthest(frames []WindowFrame, at int64) int {
	if last := len(frames) - 1; frames[last].Frame-at > at-frames[0].Frame {
		return last
	}
	return 0
}

func weight(f WindowFrame) (n int) {
	for _, p := range []*Picture{f.A.Picture, f.B.Picture} {
		if p != nil {
			n += len(p.Data)
		}
	}
	return n
}

// guess is about how many bytes the frames take when they are rounded, from those
// of one frame near the divergent one.
func guess(frames []WindowFrame, at int64, step int) int {
	exact := 0
	var near *Picture
	far := int64(-1)
	for _, f := range frames {
		exact += weight(f)
		if away := max(f.Frame-at, at-f.Frame); f.A.Picture != nil && (far < 0 || away < far) {
			near, far = f.A.Picture, away
		}
	}
	q := rounded(near, step)
	if step == 1 || q == nil {
		return exact
	}
	return int(float64(exact) * float64(len(q.Data)) / float64(len(near.Data)))
}

func dataOf(d Divergence, f WindowFrame) frameOfData {
	out := frameOfData{Frame: f.Frame, Label: count(f.Frame), Differ: f.A.Reads != f.B.Reads, A: sideData(f.A), B: sideData(f.B)}
	out.Verdict, out.Tone = frameWords(d, f)
	return out
}

// frameWords says what the comparison knows of a frame of a window.
func frameWords(d Divergence, f WindowFrame) (words, tone string) {
	switch {
	case f.A.Picture == nil && f.B.Picture == nil:
		return "unseen in both runs", "unknown"
	case f.A.Picture == nil:
		return "unseen in " + named(d.A, longName).Short, "unknown"
	case f.B.Picture == nil:
		return "unseen in " + named(d.B, longName).Short, "unknown"
	case f.Frame < d.Since:
		return "before the runs part", "yes"
	case f.Frame < d.Frame:
		return "not known to be equal", "unknown"
	case f.Frame == d.Frame:
		return "the first frame known to differ", "no"
	}
	return "after the runs parted", "no"
}

func sideData(s WindowSide) sideOfData {
	out := sideOfData{Reads: text(s.Reads), Mark: named(s.Mark, longName).Short}
	if p := show(s.Picture, widePart); p != nil {
		out.Src, out.Alt = string(p.URI), p.Alt
	} else {
		out.Unseen = text(s.Unseen)
	}
	if s.Line > 0 {
		out.Program = fmt.Sprintf("line %s: %s", count(s.Line), text(s.LineText))
	}
	return out
}
