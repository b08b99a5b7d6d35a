package draft

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"

	"latchproof/harness/lockstep"
	"latchproof/harness/look"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Late is how many reads after a mark its checkpoint may look when the frame of
// the mark was not seen.
const Late = 12

// MaxMoments bounds the checkpoints of a draft.
const MaxMoments = 100

// maxScenes is how many changes of scene are taken when there are no marks, and
// sceneGap the frames between two of them at least.
const (
	maxScenes = 8
	sceneGap  = 30
)

// moment is a frame that a checkpoint is wanted for.
type moment struct {
	name  string // of the mark, or of the scene
	at    specs.Moment
	frame console.Frame
	about string // one line: what is looked at and why
}

// marked are the moments of a program's marks; left says which have none.
func marked(r *look.Run, marks []program.Mark) (moments []moment, left []string) {
	taken := map[console.Frame]bool{}
	for _, m := range marks {
		at, frame, err := seenAfter(r, m)
		switch {
		case err != nil:
			left = append(left, fmt.Sprintf("mark %s: %v", m.Name, err))
		case taken[frame]:
			left = append(left, fmt.Sprintf("mark %s: another mark is on the same frame %d", m.Name, frame))
		case len(moments) == MaxMoments:
			left = append(left, fmt.Sprintf("mark %s: a draft has at most %d checkpoints", m.Name, MaxMoments))
		default:
			about := fmt.Sprintf("The mark of read %d, program line %d: frame %d in this run.", m.Read, m.Line, frame)
			if at.Offset > 0 {
				about = fmt.Sprintf("The mark of read %d, program line %d. Its frame was not seen; %s is frame %d in this run.", m.Read, m.Line, at, frame)
			}
			taken[frame] = true
			moments = append(moments, moment{name: m.Name, at: at, frame: frame, about: about})
		}
	}
	return moments, left
}

// seenAfter is the first moment from a mark on whose frame was seen.
func seenAfter(r *look.Run, m program.Mark) (specs.Moment, console.Frame, error) {
	first := console.Frame(-1)
	for n := range int64(Late + 1) {
		f, ok := r.FrameOfRead(m.Read + program.Read(n))
		if !ok {
			break
		}
		if first < 0 {
			first = f
		}
		if r.Seen(f) {
			return specs.Moment{Mark: m.Name, Offset: n}, f, nil
		}
	}
	if first < 0 {
		return specs.Moment{}, 0, errors.New("the run has no such read")
	}
	return specs.Moment{}, 0, fmt.Errorf("neither frame %d nor any of the next %d reads was seen", first, Late)
}

// change is how much of the picture is new on a frame: the share of 8x8 blocks
// whose luma differs by more than sceneStep levels from the last frame seen.
type change struct {
	frame console.Frame
	share float64
	next  bool // the frame before was seen
}

// sceneStep is well above noise and below what moving things change in a whole
// block; sceneShare is the share of blocks that makes a change of scene.
const (
	sceneStep  = 24 / lockstep.Unit
	sceneShare = 0.25
)

// changes walks a trace for the frames on which much of the picture is new.
func changes(t lockstep.Trace) ([]change, error) {
	c, err := t.Open()
	if err != nil {
		return nil, err
	}
	defer c.Close()
	var out []change
	var before lockstep.Features
	last := console.Frame(-2)
	per := t.Layout().Len() / max(t.Layout().Blocks(), 1)
	for {
		var p lockstep.Picture
		if err := c.Next(&p); errors.Is(err, io.EOF) {
			return out, nil
		} else if err != nil {
			return nil, err
		}
		if p.Sight != lockstep.Seen {
			continue
		}
		if len(before) == len(p.Features) {
			blocks := 0
			for i := 0; i+per <= len(before); i += per {
				for k := range 4 { // the luma means
					d := int(before[i+k]) - int(p.Features[i+k])
					if float64(max(d, -d)) > sceneStep {
						blocks++
						break
					}
				}
			}
			if share := float64(blocks) * float64(per) / float64(len(before)); share >= sceneShare {
				out = append(out, change{p.Frame, share, last == p.Frame-1})
			}
		}
		before, last = append(before[:0], p.Features...), p.Frame
	}
}

// scenes are moments at the largest changes of scene, and at the run's end.
func scenes(r *look.Run, all []change) []moment {
	largest := slices.Clone(all)
	slices.SortStableFunc(largest, func(a, b change) int { return cmp.Compare(b.share, a.share) })
	var frames []console.Frame
	far := func(f console.Frame) bool {
		return !slices.ContainsFunc(frames, func(g console.Frame) bool { return max(f-g, g-f) < sceneGap })
	}
	for _, c := range largest {
		if len(frames) < maxScenes && far(c.frame) {
			frames = append(frames, c.frame)
		}
	}
	for f := r.Last; f > 0 && f > r.Last-sceneGap; f-- {
		if r.Seen(f) {
			if far(f) {
				frames = append(frames, f)
			}
			break
		}
	}
	slices.Sort(frames)
	var out []moment
	for i, f := range frames {
		about := "The end of the run."
		if k := slices.IndexFunc(all, func(c change) bool { return c.frame == f }); k >= 0 {
			about = fmt.Sprintf("A change of scene: %.0f %% of the picture is new on frame %d.", 100*all[k].share, f)
		}
		out = append(out, moment{name: fmt.Sprintf("scene-%d", i+1), at: specs.Moment{Offset: int64(f)}, frame: f, about: about})
	}
	return out
}
