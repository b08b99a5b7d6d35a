package draft

import (
	"context"
	"fmt"
	"image"
	"slices"

	"latchproof/harness/look"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// The anchor is looked for on the first anchorTries changes of scene whose frame
// before was seen; no earlier picture may come nearer to it than anchorBefore.
const (
	anchorTries  = 4
	anchorBefore = 0.7
)

// anchorFrames are the frames that may become the anchor's.
func anchorFrames(all []change) []console.Frame {
	var out []console.Frame
	for _, c := range all {
		if c.next && c.frame > 0 && len(out) < anchorTries {
			out = append(out, c.frame)
		}
	}
	return out
}

// anchor proposes the anchor; nil when none will do.
func (a *album) anchor(ctx context.Context, r *look.Run, frames []console.Frame) (*Item, error) {
	for _, f := range frames {
		before := moment{name: fmt.Sprintf("frame %d", f-1), frame: f - 1}
		list, err := a.choose(moment{frame: f}, []moment{before})
		if err != nil {
			return nil, err
		}
		// What goes away again at once is no hold.
		list = slices.DeleteFunc(list, func(c choice) bool { return c.stands == 0 || c.other >= anchorBefore })
		c, highest, err := newThere(ctx, r, f, list)
		if err != nil {
			return nil, err
		}
		if c == nil {
			continue
		}
		c.other = highest
		return &Item{
			Name: "anchor", At: specs.Moment{Offset: int64(f)}, Frame: f, choice: c,
			about: []string{
				"The anchor ties the capture to the frame count: in every run, the first picture",
				fmt.Sprintf("that shows this is of frame %d. No picture before it scores more than %.2f there.", f, max(highest, 0)),
			},
		}, nil
	}
	return nil, nil
}

// newThere is the first choice that no picture before frame f shows at its place,
// and the highest score that any has there.
func newThere(ctx context.Context, r *look.Run, f console.Frame, list []choice) (*choice, float64, error) {
	if len(list) == 0 {
		return nil, 0, nil
	}
	highest := make([]float64, len(list))
	templates := make([]*vision.Template, len(list))
	for i, c := range list {
		highest[i] = -1
		var err error
		if templates[i], err = vision.NewTemplate(c.picture, nil); err != nil {
			return nil, 0, err
		}
	}
	err := r.Before(ctx, f, func(s *screen.Screen) error {
		for i, t := range templates {
			got, err := t.Match(s, image.Rectangle{Min: list[i].in.Min.Sub(image.Pt(1, 1)), Max: list[i].in.Min.Add(image.Pt(2, 2))})
			if err != nil {
				return err
			}
			highest[i] = max(highest[i], got.Score)
		}
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	for i := range list {
		if highest[i] < anchorBefore {
			return &list[i], highest[i], nil
		}
	}
	return nil, 0, nil
}
