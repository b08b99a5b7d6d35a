package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"sync"

	"latchproof/fixtures/lamplighter"
)

var cleanShots sync.Map

// cleanShot is a frame as a card without noise would give it.
func cleanShot(pix []byte, alt string) *Picture {
	data, ok := cleanShots.Load(&pix[0])
	if !ok {
		m := image.NewPaletted(image.Rect(0, 0, lamplighter.Width, lamplighter.Height), nil)
		for _, c := range lamplighter.Palette {
			m.Palette = append(m.Palette, color.RGBA{c.R, c.G, c.B, 255})
		}
		copy(m.Pix, pix)
		var b bytes.Buffer
		if err := png.Encode(&b, m); err != nil {
			panic(err)
		}
		data, _ = cleanShots.LoadOrStore(&pix[0], b.Bytes())
	}
	return &Picture{Data: data.([]byte), Type: "image/png", Alt: alt, W: lamplighter.Width, H: lamplighter.Height}
}

// sampleWindow is eight frames around one, the second after it unseen in b.
func sampleWindow(a, b [][]byte, at int, frame int64) *Window {
	w := &Window{}
	for i := -3; i <= 4; i++ {
		f := frame + int64(i)
		side := func(run string, pix []byte) WindowSide {
			return WindowSide{
				Picture: cleanShot(pix, fmt.Sprintf("%s at frame %d", run, f)), Reads: fmt.Sprintf("read %d: right+b", f-12),
				Line: 41, LineText: "hold right+b for 130", Mark: fmt.Sprintf("lindens+%d", 18+i),
			}
		}
		wf := WindowFrame{Frame: f, A: side("hasty-1", a[at+i]), B: side("hasty-3", b[at+i])}
		if i == 2 {
			wf.B.Picture, wf.B.Unseen, wf.B.Reads = nil, "the capture has no picture that is surely of this frame", "no read"
		}
		w.Frames = append(w.Frames, wf)
	}
	return w
}
