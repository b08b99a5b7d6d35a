package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/look"
	"latchproof/harness/look/draw"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// sheetPictures is about how many pictures a sheet has when nobody says, and
// maxSheet how many it may have.
const (
	sheetPictures = 40
	maxSheet      = 1000
)

// sheetCell is one picture of a sheet.
type sheetCell struct {
	Frame console.Frame `json:"frame"` // -1: the mark has none
	Mark  string        `json:"mark"`
	Seen  bool          `json:"seen"`
	Why   string        `json:"why,omitempty"` // it is not seen
}

func (a *app) lookSheet(cmd *cobra.Command, r *look.Run, f looking) error {
	cells, err := sheetCells(r, f)
	if err != nil {
		return err
	}
	title := caption(r, fmt.Sprintf("%d pictures", len(cells)))
	sh, err := draw.NewSheet(title, r.Raster().Size(), len(cells), f.columns, f.scale)
	if err != nil {
		return usageError{err}
	}
	at := map[console.Frame]int{}
	for i, c := range cells {
		at[c.Frame] = i
		if c.Frame < 0 {
			sh.Label(i, "no frame", c.Mark)
		} else {
			sh.Label(i, fmt.Sprintf("frame %d", c.Frame), c.Mark)
		}
	}
	seen := 0
	err = r.Screens(cmd.Context(), func(f console.Frame) bool {
		_, ok := at[f]
		return ok
	}, func(f console.Frame, s *screen.Screen) error {
		i := at[f]
		cells[i].Seen = true
		seen++
		return sh.Put(i, s)
	})
	if err != nil {
		return err
	}
	for i := range cells {
		switch c := &cells[i]; {
		case c.Seen:
		case c.Frame < 0:
			sh.Empty(i, "not played")
		default:
			c.Why = r.Why(c.Frame)
			sh.Empty(i, "unseen")
		}
	}
	if err := writePNG(f.out, sh.Image()); err != nil {
		return err
	}
	size := sh.Image().Rect.Size()
	if a.json {
		err = a.printJSON(map[string]any{
			"file": f.out, "run": r.Record.Dir, "scale": f.scale, "size": [2]int{size.X, size.Y},
			"seen": seen, "unseen": len(cells) - seen, "cells": cells,
		})
	} else {
		fmt.Fprintf(a.out, "%s: %d frames, %d of them unseen, %dx%d pixels\n", f.out, len(cells), len(cells)-seen, size.X, size.Y)
	}
	if err == nil && seen == 0 {
		fmt.Fprintf(a.err, "latchproof: %s has a picture of none of these frames\n", r.Record.Dir)
		err = verdict(codeNothing)
	}
	return err
}

// sheetCells chooses the frames.
func sheetCells(r *look.Run, f looking) ([]sheetCell, error) {
	if f.marks {
		return markCells(r)
	}
	from, to := console.Frame(0), r.Last
	var err error
	if f.from != "" {
		if from, err = frameOf(r, f.from); err != nil {
			return nil, err
		}
	}
	if f.to != "" {
		if to, err = frameOf(r, f.to); err != nil {
			return nil, err
		}
	}
	if from > to {
		return nil, usageError{fmt.Errorf("no frames from %d to %d; the run's last frame is %d", from, to, r.Last)}
	}
	every := console.Frame(f.every)
	if every == 0 {
		every = (to - from + sheetPictures) / sheetPictures
	}
	if n := (to-from)/every + 1; n > maxSheet {
		return nil, usageError{fmt.Errorf("%d pictures are too many for a sheet, at most %d; use a larger --every", n, maxSheet)}
	}
	var cells []sheetCell
	for g := from; g <= to; g += every {
		cells = append(cells, sheetCell{Frame: g, Mark: r.Label(g)})
	}
	return cells, nil
}

// markCells are the frames of the marks; marks on one frame share a cell.
func markCells(r *look.Run) ([]sheetCell, error) {
	if len(r.Marks) == 0 {
		return nil, usageError{fmt.Errorf("%w: the run's program has none, or it has no program", look.ErrNoMarks)}
	}
	if len(r.Marks) > maxSheet {
		return nil, usageError{fmt.Errorf("%d marks are too many for a sheet, at most %d", len(r.Marks), maxSheet)}
	}
	var cells []sheetCell
	for _, m := range r.Marks {
		f, err := r.Frame(specs.Moment{Mark: m.Name})
		if err != nil {
			cells = append(cells, sheetCell{Frame: -1, Mark: m.Name, Why: err.Error()})
			continue
		}
		if n := len(cells); n > 0 && cells[n-1].Frame == f {
			cells[n-1].Mark = strings.Join([]string{cells[n-1].Mark, m.Name}, ", ")
			continue
		}
		cells = append(cells, sheetCell{Frame: f, Mark: m.Name})
	}
	slices.SortStableFunc(cells, func(a, b sheetCell) int {
		// Marks that were never played come last.
		return cmp.Or(cmp.Compare(min(a.Frame, 0), min(b.Frame, 0))*-1, cmp.Compare(a.Frame, b.Frame))
	})
	return cells, nil
}
