package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io/fs"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/lamplighter"
)

// The samples are sessions as the harness fills them, with pictures of the demo
// game. Their numbers are invented: they are for looking at the page, and what
// is asserted of them is only that the page shows what it was given.

// played gives the pictures of hasty.prog for a power-on memory.
func played(memory uint64) [][]byte {
	p, err := demo.Program("hasty")
	if err != nil {
		panic(err)
	}
	pictures, _ := demo.Trace(p.Runs(), memory)
	return pictures
}

var tracesOf = [2]func() [][]byte{
	sync.OnceValue(func() [][]byte { return played(1) }),
	sync.OnceValue(func() [][]byte { return played(2) }),
}

// shot is a frame as a card would give it, with noise. Each is made once.
func shot(pix []byte, seed uint64, alt string) *Picture {
	type key struct {
		pix  *byte
		seed uint64
	}
	data, ok := shots.Load(key{&pix[0], seed})
	if !ok {
		data, _ = shots.LoadOrStore(key{&pix[0], seed}, noisyJPEG(pix, seed))
	}
	return &Picture{Data: data.([]byte), Type: "image/jpeg", Alt: alt, W: lamplighter.Width, H: lamplighter.Height}
}

var shots sync.Map

func noisyJPEG(pix []byte, seed uint64) []byte {
	const w, h = lamplighter.Width, lamplighter.Height
	r := rand.New(rand.NewPCG(seed, 1))
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i, v := range pix {
		c := lamplighter.Palette[v]
		n := int(r.NormFloat64() * 3)
		img.SetRGBA(i%w, i/w, color.RGBA{noisy(c.R, n), noisy(c.G, n), noisy(c.B, n), 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 88}); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func noisy(c uint8, n int) uint8 { return uint8(min(max(int(c)+n, 0), 255)) }

func templateOf(file string) Picture {
	data, err := fs.ReadFile(demo.Files(), file)
	if err != nil {
		panic(err)
	}
	cfg, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		panic(err)
	}
	return Picture{Data: data, Type: "image/png", Alt: "template " + file, W: cfg.Width, H: cfg.Height}
}

func sampleBench() Bench {
	return Bench{
		Name: "kitchen table", Console: "8-bit console, revision C, serial 20417", Feeder: "feeder board, revision 2, firmware 1.4, serial 0007",
		Card: "capture card, firmware 9, serial 58-1102", Latency: "41.30 ms ± 1.20 ms", RateHz: 59.94,
	}
}

func sampleRepeats(n int) (out []Repeat) {
	for i := range n {
		r := Repeat{
			Name: fmt.Sprintf("hasty-%d", i+1), Folder: fmt.Sprintf("runs/2031-05-17/hasty-%d", i+1), Verdict: "pass", State: "sealed",
			Clock: "measured", ClockWhy: "from 796 reads and the anchor at frame 62", PPM: 11.8 + float64(i)/10, JitterUS: 3.9 + float64(i%3)/5,
			Frames: 868, Reads: 820, Pictures: 866, Seconds: 14.44, LagFrames: 12,
		}
		for k := range 12 {
			r.LagAt = append(r.LagAt, int64(330+k*7))
		}
		for f := int64(101 + 37*i); f < 868; f += 378 {
			r.UnseenFrames = append(r.UnseenFrames, f)
		}
		r.Unseen = len(r.UnseenFrames)
		out = append(out, r)
	}
	return out
}

type sampleCheck struct {
	name, kind, asks, at, file string
	frame                      int64
	box                        [4]int
	score, threshold           float64
}

var sampleChecks = []sampleCheck{
	{"the banner is up", "shows", "shows start-banner at (86, 116)", "40", "start-banner.png", 40, [4]int{86, 116, 84, 7}, 0.991, 0.9},
	{"stands at the gate", "shows", "shows lamplighter-idle within 1 pixel of (40, 176)", "62", "lamplighter-idle.png", 62, [4]int{40, 176, 16, 32}, 0.983, 0.9},
	{"first lamp catches", "shows", "shows lamp-lit within 1 pixel of (89, 120)", "first-lamp+7", "lamp-lit.png", 149, [4]int{89, 120, 14, 20}, 0.968, 0.9},
	{"toes cross the corner", "shows", "shows toes-at-corner within 1 pixel of (90, 168)", "jump+5", "toes-at-corner.png", 227, [4]int{90, 168, 30, 40}, 0.957, 0.85},
	{"no moths until frame 525", "hides", "hides moth everywhere, in every frame", "62 to 524", "moth.png", 401, [4]int{120, 60, 12, 9}, 0.513, 0.9},
}

func sampleCheckpoints(repeats []Repeat) (out []Checkpoint) {
	trace := tracesOf[0]()
	for _, c := range sampleChecks {
		cp := Checkpoint{Name: c.name, Kind: c.kind, Asks: c.asks, At: c.at, Verdict: "pass", Templates: []Picture{templateOf(c.file)}}
		cp.Templates[0].Alt = "template " + c.file
		for i, r := range repeats {
			score := c.score - float64(i)/500
			seen := shot(trace[c.frame], uint64(i), fmt.Sprintf("%s, frame %d: what was seen", r.Name, c.frame))
			box := c.box
			box[2], box[3] = cp.Templates[0].W, cp.Templates[0].H
			seen.Box = &box
			word := "at least"
			if c.kind == "hides" {
				word = "below"
			}
			cp.Results = append(cp.Results, Result{
				Repeat: r.Name, Verdict: "pass", Frame: c.frame, Score: &score, Threshold: c.threshold,
				At: &[2]int{box[0], box[1]}, Why: fmt.Sprintf("best score %.3f, %s %.2f asked", score, word, c.threshold), Seen: seen,
			})
		}
		out = append(out, cp)
	}
	return out
}

// sampleHeld is a session in which all held.
func sampleHeld() Session {
	rs := sampleRepeats(5)
	names := []string{}
	for _, r := range rs {
		names = append(names, r.Name)
	}
	return Session{
		Title: "First lamp, five times", Made: time.Date(2031, 5, 17, 19, 42, 0, 0, time.UTC), Version: "0.1.0", Bench: sampleBench(),
		Specs: []Spec{{
			Name: "hasty", About: "The lamplighter does not wait for the moths.", File: "hasty.spec.yaml",
			ProgramFile: "hasty.prog", ProgramHash: "5b8c3cbf9a1e64d2f00d7a1e2b44a6bd9c1f5e0372c8d6e1b0a4f7c2918d3e5f", Reads: 760, Console: "ntsc-8bit",
			Verdict: "held", Sentence: "Frame-exact: all 5 repeats showed the same picture on the same frame, over 868 frames.",
			Lockstep: Lockstep{InStep: 5, Repeats: 5, Required: 5, Held: true, Low: 0.3976, High: 1, Frames: 868, Unseen: 3, Families: []Family{{Repeats: names, Parent: -1}}, Survival: flatSurvival(4, 0.3976)},
			Repeats:  rs, ReadTiming: sampleReadTiming(rs[:1]), Checkpoints: sampleCheckpoints(rs),
		}},
	}
}

func sampleRows(from, to, differ int64) (rows []ReadAt) {
	for f := from; f <= to; f++ {
		a := fmt.Sprintf("read %d: right+b", f-12)
		b := a
		if f >= differ {
			b = fmt.Sprintf("read %d: right+b", f-13)
		}
		if f == differ {
			b = "no read"
		}
		rows = append(rows, ReadAt{Frame: f, A: a, B: b, Differ: a != b})
	}
	return rows
}

// samplePicture is a session in which one repeat parts for the console's own
// state, as the demo means it.
func samplePicture() Session {
	s := sampleHeld()
	s.Title, s.Bench.Simulated = "Demo", true
	sp := &s.Specs[0]
	sp.Verdict = "not held"
	sp.Sentence = "Not frame-exact: 4 of 5 repeats stayed in lockstep with the first. They part at frame 525 (picture): the picture of hasty-3 first differs from that of hasty-1 at frame 525; every read before it is the same."
	sp.Note = "meant to part: it meets the moths, whose flight depends on power-on memory"
	sp.Lockstep.InStep, sp.Lockstep.Held, sp.Lockstep.Low, sp.Lockstep.High = 4, false, 0.1941, 0.9937
	sp.Lockstep.Families = []Family{
		{Repeats: []string{"hasty-1", "hasty-2", "hasty-4", "hasty-5"}, Parent: -1},
		{Repeats: []string{"hasty-3"}, From: 525, Parent: 0, Kind: "picture", Why: "the picture of hasty-3 first differs from that of hasty-1 at frame 525; every read before it is the same"},
	}
	sp.Lockstep.Survival = &Survival{
		Repeats: 4, Parted: 1, Confidence: 0.95, Sentence: "At frame 868, 75 % of the repeats are still in lockstep with the first.",
		Steps: []SurvivalStep{{Frame: 0, AtRisk: 4, Survival: 1, Low: 0.3976, High: 1}, {Frame: 525, AtRisk: 4, Parted: 1, Survival: 0.75, SE: 0.2165, Low: 0.1941, High: 0.9937}, {Frame: 868, AtRisk: 3, Survival: 0.75, SE: 0.2165, Low: 0.1941, High: 0.9937}},
	}
	sp.Repeats[2].Family = 1
	a, b := tracesOf[0](), tracesOf[1]()
	f := 0
	for bytes.Equal(a[f], b[f]) {
		f++
	}
	sp.Divergences = []Divergence{{
		A: "hasty-1", B: "hasty-3", Family: 1, Frame: 525, Since: 525, Read: 513, Kind: "picture", Region: differing(a[f], b[f]),
		Why:         "the picture of hasty-3 first differs from that of hasty-1 at frame 525; every read before it is the same",
		Try:         "Both runs were given the same reads, so the console itself was in another state. Start from power instead of reset, wait longer before the first press, or change the program so that it does not depend on what memory holds at power-on.",
		ProgramLine: 41, ProgramText: "hold right+b for 130", Mark: "lindens+18", ReadRows: sampleRows(519, 531, 1000),
		PictureA: shot(a[f], 7, "hasty-1 at frame 525"), PictureB: shot(b[f], 8, "hasty-3 at frame 525"),
		Window: sampleWindow(a, b, f, 525),
	}}
	return s
}

// differing is the place where two pictures differ, on whole blocks of 8.
func differing(a, b []byte) *[4]int {
	var r image.Rectangle
	for i := range a {
		if a[i] != b[i] {
			x, y := i%lamplighter.Width/8*8, i/lamplighter.Width/8*8
			r = r.Union(image.Rect(x, y, x+8, y+8))
		}
	}
	return &[4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()}
}

// sampleThree has three families, a repeat that could not be compared, and
// checkpoints that failed and that were unseen.
func sampleThree() Session {
	s := samplePicture()
	s.Title, s.Bench.Simulated = "Evening of the long cable", false
	sp := &s.Specs[0]
	sp.Note = ""
	sp.Repeats = sampleRepeats(8)
	sp.Checkpoints = sampleCheckpoints(sp.Repeats)
	sp.Sentence = "Not frame-exact: 4 of 7 repeats stayed in lockstep with the first. They part at frame 214 (input): read 202 of hasty-4 was missed; the picture first differs at frame 214; 1 could not be compared; 1 checkpoints failed; 2 checkpoints were unseen."
	sp.Warnings = []string{"hasty-8: no answer from the feeder board in 2 s; the record says where it stopped"}
	sp.ReadTiming = sampleReadTiming(sp.Repeats)
	sp.Lockstep = Lockstep{Survival: fallingSurvival(), InStep: 4, Repeats: 7, Required: 8, Low: 0.1181, High: 0.8819, Frames: 868, Unseen: 1, Families: []Family{
		{Repeats: []string{"hasty-1", "hasty-2", "hasty-5", "hasty-7"}, Parent: -1},
		{Repeats: []string{"hasty-4"}, From: 214, Parent: 0, Kind: "input", Why: "read 202 of hasty-4 was missed"},
		{Repeats: []string{"hasty-3", "hasty-6"}, From: 525, Parent: 0, Kind: "picture", Why: "the picture of hasty-3 first differs from that of hasty-1 at frame 525; every read before it is the same"},
	}}
	for i, f := range []int{0, 0, 2, 1, 0, 2, 0, -1} {
		sp.Repeats[i].Family = f
	}
	sp.Repeats[3].Verdict, sp.Repeats[7].Verdict = "fail", "unseen"
	last := &sp.Repeats[7]
	last.State, last.Frames, last.Problems = "partial", 318, []string{"the feeder board stopped answering at read 306"}
	last.Clock, last.ClockWhy = "assumed", "no read log after read 306; nominal rate from the anchor"
	last.UnseenFrames, last.LagAt = nil, nil
	for f := int64(290); f < 318; f++ {
		last.UnseenFrames = append(last.UnseenFrames, f)
	}
	last.Unseen, last.LagFrames = 28, 0
	a := tracesOf[0]()
	low := 0.412
	toes := &sp.Checkpoints[3]
	toes.Verdict = "fail"
	toes.Results[3].Verdict, toes.Results[3].Score, toes.Results[3].Why = "fail", &low, "best score 0.412 at (88, 169), at least 0.85 asked"
	toes.Results[3].Seen = shot(a[toes.Results[3].Frame-1], 3, "hasty-4, frame 227: what was seen")
	toes.Results[3].Seen.Box = &[4]int{88, 169, 30, 40}
	toes.Results[7] = Result{Repeat: "hasty-8", Verdict: "unseen", Frame: 227, Why: "the capture has no picture of frame 227", Clock: "assumed"}
	moths := &sp.Checkpoints[4]
	moths.Verdict = "unseen"
	moths.Results[7] = Result{Repeat: "hasty-8", Verdict: "unseen", Frame: 318, Why: "207 of 463 frames have no picture; nothing was found in the others", Clock: "assumed"}
	d := sp.Divergences[0]
	d.Family = 2
	in := Divergence{
		A: "hasty-1", B: "hasty-4", Family: 1, Frame: 214, Since: 212, Read: 202, Kind: "input", Region: differing(a[214], a[213]),
		Why:         "read 202 of hasty-4 was missed; the picture first differs at frame 214",
		Try:         "Look at the latch and clock wiring, the board's power and its log around this read, then play again: the console was given other buttons, so its picture had to part.",
		ProgramLine: 23, ProgramText: "hold right+b for 63", Mark: "first-lamp+60", ReadRows: sampleRows(208, 220, 214),
		PictureA: shot(a[214], 11, "hasty-1 at frame 214"), PictureB: shot(a[213], 12, "hasty-4 at frame 214"),
		Window: sampleWindow(a, slices.Concat(a[:214], a[213:]), 214, 214),
	}
	sp.Divergences = []Divergence{in, d}
	return s
}
