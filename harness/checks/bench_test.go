package checks_test

import (
	"image"
	"testing"

	"latchproof/harness/checks"
	"latchproof/vision"
)

func BenchmarkLook(b *testing.B) {
	pic := scene(1)
	cut, err := pic.Crop(image.Rect(40, 176, 56, 192))
	if err != nil {
		b.Fatal(err)
	}
	tpl, err := vision.NewTemplate(cut, nil)
	if err != nil {
		b.Fatal(err)
	}
	at := image.Pt(40, 176)
	for _, c := range []struct {
		name  string
		check checks.Check
	}{
		{"at", checks.NewShows(tpl, &checks.Place{Near: at}, 0.9)},
		{"within-1", checks.NewShows(tpl, &checks.Place{Near: at, Within: 1}, 0.9)},
		{"within-8", checks.NewShows(tpl, &checks.Place{Near: at, Within: 8}, 0.9)},
		{"anywhere", checks.NewShows(tpl, nil, 0.9)},
		{"at, threshold by noise", checks.NewShows(tpl, &checks.Place{Near: at}, 0)},
		{"screen", checks.NewScreen(pic)},
		{"black", checks.NewBlack(checks.DefaultLevel)},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := c.check.Look(pic); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
