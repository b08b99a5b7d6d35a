package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"

	"latchproof/fixtures/lamplighter"
)

// noisyPNG is a picture of the game with noise in every channel, packed as the
// harness does it: the worst that a card may be taken to give.
func noisyPNG(pix []byte, seed uint64) *Picture {
	const w, h = lamplighter.Width, lamplighter.Height
	r := rand.New(rand.NewPCG(seed, 4))
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i, v := range pix {
		c := lamplighter.Palette[v]
		m.SetRGBA(i%w, i/w, color.RGBA{noisy(c.R, int(r.NormFloat64()*6)), noisy(c.G, int(r.NormFloat64()*6)), noisy(c.B, int(r.NormFloat64()*6)), 255})
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m); err != nil {
		panic(err)
	}
	return &Picture{Data: b.Bytes(), Type: "image/png", Alt: fmt.Sprint("picture ", seed)}
}

// sampleHundred is a session of 100 repeats of ten minutes in which much parts,
// fails and is unseen, from a card with much noise.
func sampleHundred() Session {
	const repeats, frames = 100, 36060
	trace := tracesOf[0]()
	var pool []*Picture
	for i := range 16 {
		pool = append(pool, noisyPNG(trace[200+3*i], uint64(i)))
	}
	s := sampleThree()
	s.Title = "A hundred times ten minutes"
	sp := &s.Specs[0]
	sp.Repeats, sp.Divergences = nil, nil
	sp.Lockstep.Families, sp.Lockstep.Survival = nil, soakSurvival(repeats)
	sp.Lockstep.Frames = frames
	for i := range repeats {
		r := sampleRepeats(1)[0]
		r.Name, r.Frames, r.Family = fmt.Sprintf("hasty-%d", i+1), frames, i%20
		r.LagAt, r.UnseenFrames = nil, nil
		for f := int64(i % 300); f < frames; f += 300 {
			r.UnseenFrames, r.LagAt = append(r.UnseenFrames, f), append(r.LagAt, f+7)
		}
		sp.Repeats = append(sp.Repeats, r)
	}
	sp.Checkpoints = sampleCheckpoints(nil)
	for i := range 50 {
		c := sp.Checkpoints[i%5]
		c.Name, c.Verdict, c.Results = fmt.Sprint("checkpoint ", i), "fail", nil
		for k, r := range sp.Repeats {
			verdict := []string{"pass", "pass", "fail"}[k%3]
			c.Results = append(c.Results, Result{Repeat: r.Name, Verdict: verdict, Frame: int64(600 * i), Why: "best score 0.412 at (88, 169), at least 0.85 asked", Seen: pool[k%16]})
		}
		sp.Checkpoints = append(sp.Checkpoints, c)
	}
	for i := range 20 {
		f := Family{From: int64(900 + 1000*i), Parent: (i - 1) / 3, Kind: "picture", Why: "the picture first differs"}
		if i == 0 {
			f.From, f.Parent = 0, -1
		}
		for k := i; k < repeats; k += 20 {
			f.Repeats = append(f.Repeats, sp.Repeats[k].Name)
		}
		sp.Lockstep.Families = append(sp.Lockstep.Families, f)
		d := Divergence{A: "hasty-1", B: fmt.Sprintf("hasty-%d", i+1), Family: i, Frame: f.From, Since: f.From, Read: 5, Kind: "picture", Region: &[4]int{8, 8, 80, 60}, ReadRows: sampleRows(f.From-6, f.From+6, f.From), PictureA: pool[i%16], PictureB: pool[(i+1)%16]}
		if i == 0 {
			continue
		}
		before, after := int64(2), int64(3)
		if i == 1 {
			d.Frame, d.Since, before, after = 900, 900, 8, 15
		}
		d.Window = &Window{}
		for k := d.Frame - before; k <= d.Frame+after; k++ {
			side := WindowSide{Picture: pool[k%16], Reads: "read 5: right+b", Line: 4, LineText: "hold right+b for 130"}
			other := side
			other.Picture = pool[(k+1)%16]
			d.Window.Frames = append(d.Window.Frames, WindowFrame{Frame: k, A: side, B: other})
		}
		sp.Divergences = append(sp.Divergences, d)
	}
	sp.ReadTiming = sampleReadTiming(sp.Repeats)
	return s
}
