package harness

import (
	"context"
	"fmt"
	"image"
	"slices"
	"strings"

	"latchproof/harness/lockstep"
	"latchproof/reports"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// windowsMost is of how many divergences of a case the pictures around them are
// shown.
const windowsMost = 12

// span is how many frames before and after the divergent one are shown, by the
// rank of the divergence in its case.
func span(rank int) (before, after console.Frame) {
	switch {
	case rank == 0:
		return 8, 15
	case rank < 4:
		return 4, 7
	}
	return 2, 3
}

// addWindows gives the first divergences of a case their windows, and a still
// picture to those that have none. Notes say which videos could not be read. The
// error is that of the context.
func addWindows(ctx context.Context, c *Case, all []reports.Divergence, runs map[string]*Run) (notes []string, err error) {
	all = all[:min(len(all), windowsMost)]
	wanted := map[string]map[console.Frame]bool{}
	for rank, d := range all {
		if runs[d.A] == nil || runs[d.B] == nil {
			continue
		}
		before, after := span(rank)
		for _, name := range []string{d.A, d.B} {
			if wanted[name] == nil {
				wanted[name] = map[console.Frame]bool{}
			}
			for f := max(console.Frame(d.Frame)-before, 0); f <= console.Frame(d.Frame)+after; f++ {
				wanted[name][f] = true
			}
		}
	}
	pictures := map[string]map[console.Frame]*reports.Picture{}
	var names []string
	for name := range wanted {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		got, err := lookBack(ctx, runs[name], wanted[name])
		if ctx.Err() != nil {
			return notes, ctx.Err()
		}
		if err != nil {
			notes = append(notes, fmt.Sprintf("no pictures of %s from its video: %v", name, err))
		}
		pictures[name] = got
	}
	lines := programLines(c)
	for rank := range all {
		d := &all[rank]
		a, b := runs[d.A], runs[d.B]
		if a == nil || b == nil {
			continue
		}
		before, after := span(rank)
		w := &reports.Window{}
		for f := max(console.Frame(d.Frame)-before, 0); f <= console.Frame(d.Frame)+after; f++ {
			if f > max(a.Last, b.Last) {
				break
			}
			w.Frames = append(w.Frames, reports.WindowFrame{Frame: int64(f), A: windowSide(c, a, f, pictures[d.A][f], lines), B: windowSide(c, b, f, pictures[d.B][f], lines)})
		}
		if len(w.Frames) == 0 {
			continue
		}
		d.Window = w
		at := console.Frame(d.Frame)
		if d.PictureA == nil {
			d.PictureA = pictures[d.A][at]
		}
		if d.PictureB == nil {
			d.PictureB = pictures[d.B][at]
		}
	}
	return notes, nil
}

func windowSide(c *Case, r *Run, f console.Frame, p *reports.Picture, lines []string) reports.WindowSide {
	out := reports.WindowSide{Picture: p, Reads: readsIn(c.Spec.Console, r, f)}
	switch {
	case p != nil:
	case f > r.Last:
		out.Unseen = "the run ended before this frame"
	default:
		out.Unseen = "the capture has no picture that is surely of this frame"
	}
	read, ok := readInForce(r.Reads, f)
	if !ok || c.Spec.Program == nil {
		return out
	}
	out.Mark = markBefore(c.Spec.Program, read)
	if out.Line = c.Spec.Program.LineAt(read); out.Line > 0 && out.Line <= len(lines) {
		out.LineText = strings.TrimSpace(lines[out.Line-1])
	}
	return out
}

// readInForce is the last read in or before a frame; false before the first.
func readInForce(reads []lockstep.ReadInfo, f console.Frame) (program.Read, bool) {
	i, _ := slices.BinarySearchFunc(reads, f, func(r lockstep.ReadInfo, f console.Frame) int {
		if r.Frame <= f {
			return -1
		}
		return 1
	})
	if i == 0 {
		return 0, false
	}
	return reads[i-1].Read, true
}

// paletted is a picture of at most 256 colours with a palette, which is smaller as
// PNG; img itself when it has more.
func paletted(img *image.RGBA) image.Image {
	out := image.NewPaletted(img.Rect, nil)
	index := map[[4]byte]uint8{}
	for i := 0; i < len(img.Pix); i += 4 {
		c := [4]byte(img.Pix[i : i+4])
		k, ok := index[c]
		if !ok {
			if len(index) == 256 {
				return img
			}
			k = uint8(len(index))
			index[c] = k
			out.Palette = append(out.Palette, img.RGBAAt(i%img.Stride/4, i/img.Stride))
		}
		out.Pix[i/4] = k
	}
	return out
}
