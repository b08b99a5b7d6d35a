package browser

import (
	"fmt"

	"latchproof/fixtures/lamplighter"
	"latchproof/reports"
)

const (
	windowBefore, windowAfter = 8, 15
	unseenAfter               = 3 // the frame after a parting that the second run did not see
)

// window is the frames around a parting, with the demo's pictures around the one
// at which its two runs part, so that what the viewer shows can be held against
// lamplighter's palette.
func window(a, b string, at int64) *reports.Window {
	w := &reports.Window{}
	for i := int64(-windowBefore); i <= windowAfter; i++ {
		f := at + i
		side := func(run int, name string) reports.WindowSide {
			return reports.WindowSide{
				Picture: frame(run, partsAt()+i, fmt.Sprintf("%s at frame %d", name, f)), Reads: fmt.Sprintf("read %d: right+b", f-12),
				Line: 41, LineText: "hold right+b for 130", Mark: fmt.Sprintf("lindens+%d", 18+i),
			}
		}
		wf := reports.WindowFrame{Frame: f, A: side(0, a), B: side(1, b)}
		if i == unseenAfter {
			wf.B = reports.WindowSide{Unseen: "the capture has no picture of it", Reads: "no read"}
		}
		w.Frames = append(w.Frames, wf)
	}
	return w
}

// differsAt is a pixel at which the two runs differ at the parting, and both of
// its colours as the viewer writes them.
func differsAt() (x, y int, a, b string) {
	pa, pb := played()[0][partsAt()], played()[1][partsAt()]
	for i := range pa {
		ca, cb := lamplighter.Palette[pa[i]], lamplighter.Palette[pb[i]]
		if ca != cb {
			hex := func(r, g, b uint8) string { return fmt.Sprintf("#%02x%02x%02x (%d, %d, %d)", r, g, b, r, g, b) }
			return i % lamplighter.Width, i / lamplighter.Width, hex(ca.R, ca.G, ca.B), hex(cb.R, cb.G, cb.B)
		}
	}
	panic("the two do not differ")
}
