package main

import (
	"context"
	"fmt"

	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/judge"
	"latchproof/specs"
	"latchproof/vision/screen"
)

// lintPictures are the pictures in which lint looks for templates.
type lintPictures struct {
	files, runs []string
	loaded      []checks.Picture
}

// load reads the files.
func (p *lintPictures) load() error {
	p.loaded = nil
	for _, f := range p.files {
		s, _, err := screen.LoadPNG(f)
		if err != nil {
			return plain(err)
		}
		p.loaded = append(p.loaded, checks.Picture{Name: f, Screen: s})
	}
	return nil
}

// of are the pictures for a spec: those of the files, which must have the size of
// its raster, and those that a run's checkpoints are judged by.
func (p *lintPictures) of(ctx context.Context, s *specs.Spec) ([]checks.Picture, error) {
	all := append([]checks.Picture{}, p.loaded...)
	for _, x := range all {
		if x.Screen.W != s.Console.Width || x.Screen.H != s.Console.Height {
			return nil, fmt.Errorf("%s: %w: it is %dx%d, and %s has %dx%d", x.Name, checks.ErrRaster,
				x.Screen.W, x.Screen.H, s.Console.Name, s.Console.Width, s.Console.Height)
		}
	}
	for _, dir := range p.runs {
		run, err := harness.JudgeRecorded(ctx, dir, s, false, nil)
		if err != nil {
			return nil, err
		}
		told := map[string]bool{}
		for _, r := range run.Results {
			name := fmt.Sprintf("%s frame %d", run.Name, r.Frame)
			if r.Verdict != judge.Unseen && r.Seen != nil && !told[name] {
				told[name] = true
				all = append(all, checks.Picture{Name: name, Screen: r.Seen})
			}
		}
		if err := run.Close(); err != nil {
			return nil, err
		}
	}
	return all, nil
}
