package draft

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image/png"
	"slices"
	"strings"
	"unicode/utf8"

	"latchproof/harness/lockstep"
	"latchproof/harness/look"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// ErrNothing says that there is nothing to make a checkpoint of.
var ErrNothing = errors.New("nothing to draft")

// Options say what the spec is called and what it names.
type Options struct {
	Name        string           // of the spec
	Prefix      string           // of the templates' file names
	Program     *program.Program // its marks are proposed
	ProgramFile string           // as the spec names it
	Console     string           // as the spec names it
	Start       string           // specs.StartReset or StartPower
	From        string           // what the draft was made of, for a comment
}

// Draft is a spec in the making.
type Draft struct {
	Options
	Anchor *Item // nil: none
	Items  []Item
	// Left says of what no checkpoint was made, one sentence each.
	Left []string

	within int // of the checkpoints, pixels
}

// Item is the anchor or a checkpoint.
type Item struct {
	Name  string
	At    specs.Moment
	Frame console.Frame // in this run

	choice *choice // nil: a black screen
	file   string  // of the template, without its ending
	about  []string
}

// Propose makes a draft of a run and its trace. Errors: ErrNothing, and those of
// look.Run.Screens and of the trace.
func Propose(ctx context.Context, r *look.Run, t lockstep.Trace, o Options) (*Draft, error) {
	d := &Draft{Options: o}
	all, err := changes(t)
	if err != nil {
		return nil, err
	}
	moments, left := marked(r, o.Program.Marks())
	d.Left = left
	if len(moments) == 0 {
		moments = scenes(r, all)
	}
	if len(moments) == 0 {
		return nil, fmt.Errorf("%w: no mark of the program has a picture, and the run has no change of scene", ErrNothing)
	}
	anchors := anchorFrames(all)
	wanted := slices.Clone(anchors)
	for _, m := range moments {
		wanted = append(wanted, m.frame)
	}
	pictures := &album{woven: r.Woven()}
	if r.Woven() {
		d.within = 1
	}
	if err := pictures.fill(ctx, r, wanted); err != nil {
		return nil, err
	}
	if d.Anchor, err = pictures.anchor(ctx, r, anchors); err != nil {
		return nil, err
	}
	for _, m := range moments {
		if err := d.propose(pictures, m, moments); err != nil {
			return nil, err
		}
	}
	if len(d.Items) == 0 {
		return nil, fmt.Errorf("%w: none of the %d frames looked at has anything that can be told apart", ErrNothing, len(moments))
	}
	d.nameFiles()
	return d, nil
}

func (d *Draft) propose(pictures *album, m moment, others []moment) error {
	s := pictures.screens[m.frame]
	if s == nil {
		d.Left = append(d.Left, fmt.Sprintf("%s: the picture of frame %d cannot be decoded", m.name, m.frame))
		return nil
	}
	if dark(s) {
		d.Items = append(d.Items, Item{Name: m.name, At: m.at, Frame: m.frame, about: []string{m.about, "The whole screen is black."}})
		return nil
	}
	list, err := pictures.choose(m, others)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		d.Left = append(d.Left, fmt.Sprintf("%s: nothing on frame %d is both rich in contrast and unlike the rest of the screen", m.name, m.frame))
		return nil
	}
	d.Items = append(d.Items, Item{Name: m.name, At: m.at, Frame: m.frame, choice: &list[0], about: append([]string{m.about}, list[0].why()...)})
	return nil
}

// why says in sentences why a template was chosen.
func (c choice) why() []string {
	text := []string{fmt.Sprintf("Contrast %.0f levels. Second best on this screen: %.2f at (%d, %d).", c.contrast, c.second, c.secondAt.X, c.secondAt.Y)}
	switch {
	case c.otherOf == "":
	case c.other >= look.DefaultScore:
		text = append(text, fmt.Sprintf("It does not tell this moment from %s, which shows it too at (%d, %d) (%.2f).", c.otherOf, c.otherAt.X, c.otherAt.Y, c.other))
	default:
		text = append(text, fmt.Sprintf("Best on the other screens: %.2f, of %s. Margin %.2f.", c.other, c.otherOf, c.margin()))
	}
	score, _ := c.threshold()
	switch n := c.passing(score); {
	case len(c.beside) == 0:
	case n == len(c.beside):
		text = append(text, fmt.Sprintf("It passes on all %d neighbouring frames seen too: a frame early or late is not told.", n))
	case n == 0:
		text = append(text, fmt.Sprintf("It passes on none of the %d neighbouring frames seen: a frame early or late fails.", len(c.beside)))
	default:
		text = append(text, fmt.Sprintf("It passes on %d of the %d neighbouring frames seen too.", n, len(c.beside)))
	}
	return text
}

// dark says whether a screen is black for the kind `black` at its default level,
// with room to spare.
func dark(s *screen.Screen) bool {
	const level = 24
	t := newTables(s)
	for y := 0; y+step <= s.H; y += step / 2 {
		for x := 0; x+step <= s.W; x += step / 2 {
			sum := t.sum[(y+step)*t.w+x+step] - t.sum[y*t.w+x+step] - t.sum[(y+step)*t.w+x] + t.sum[y*t.w+x]
			if sum > level*step*step {
				return false
			}
		}
	}
	for i := range s.Cb {
		if d := max(int(s.Cb[i])-128, 128-int(s.Cb[i]), int(s.Cr[i])-128, 128-int(s.Cr[i])); d > 4*level {
			return false
		}
	}
	return true
}

// DropAnchor takes the anchor out and notes why.
func (d *Draft) DropAnchor(why string) {
	d.Anchor = nil
	d.Left = append(d.Left, "the anchor: "+why)
}

// Drop takes a checkpoint out and notes why.
func (d *Draft) Drop(name, why string) {
	d.Items = slices.DeleteFunc(d.Items, func(i Item) bool { return i.Name == name })
	d.Left = append(d.Left, name+": "+why)
}

// all are the anchor and the checkpoints.
func (d *Draft) all() []Item {
	if d.Anchor == nil {
		return d.Items
	}
	return append([]Item{*d.Anchor}, d.Items...)
}

// Templates are the PNG files that the spec names, by name.
func (d *Draft) Templates() (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, i := range d.all() {
		if i.choice == nil {
			continue
		}
		img, err := look.Cut(i.choice.picture, i.choice.picture.Bounds(), nil)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			return nil, err
		}
		out[i.file+".png"] = b.Bytes()
	}
	return out, nil
}

// maxFile is the length of a template's name, bytes: well under what file systems
// and specs allow.
const maxFile = 120

// nameFiles gives every template a file name of its own, also where letters of
// either case are one.
func (d *Draft) nameFiles() {
	taken := map[string]bool{}
	name := func(i *Item) {
		base := clip(d.Prefix+"-"+i.Name, maxFile)
		i.file = base
		for n := 2; taken[strings.ToLower(i.file)]; n++ {
			i.file = fmt.Sprintf("%s-%d", base, n)
		}
		taken[strings.ToLower(i.file)] = true
	}
	if d.Anchor != nil {
		name(d.Anchor)
	}
	for n := range d.Items {
		name(&d.Items[n])
	}
}

// clip cuts a text to so many bytes, between characters.
func clip(s string, most int) string {
	for len(s) > most {
		_, size := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-size]
	}
	return s
}
