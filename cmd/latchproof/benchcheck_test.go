package main

import (
	"bytes"
	"image"
	"os"
	"path/filepath"
	"testing"

	"latchproof/fixtures/lamplighter"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// The reference of the simulated bench's own check is what the game draws on its
// first step in the street. `UPDATE=1 go test -run TestBenchReference
// ./cmd/latchproof` makes it again.
func TestBenchReference(t *testing.T) {
	pix := make([]byte, lamplighter.Width*lamplighter.Height)
	g := lamplighter.NewAt(lamplighter.StartStreet, 0)
	g.Step(program.State{})
	g.Draw(pix)
	img := image.NewRGBA(image.Rect(0, 0, lamplighter.Width, lamplighter.Height))
	for i, v := range pix {
		img.SetRGBA(i%lamplighter.Width, i/lamplighter.Width, lamplighter.Palette[v])
	}
	var want bytes.Buffer
	if err := screen.FromImage(img).WritePNG(&want); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("benchcheck", "check.png")
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(path, want.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want.Bytes()) {
		t.Errorf("%s is not what the game draws", path)
	}
}
