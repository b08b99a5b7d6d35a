package browser

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io/fs"
	"strings"
	"sync"
	"time"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/lamplighter"
	"latchproof/reports"
)

// The sessions of these tests have pictures of the demo game and invented
// numbers. What is asserted of them is that the page shows what it was given.

// A sample is the page of a session, written once.
type sample func() []byte

var (
	evening    = sampleOf(eveningSession)
	everything = sampleOf(everythingSession)
	hundred    = sampleOf(hundredSession)
)

func sampleOf(s func() reports.Session) sample {
	return sync.OnceValue(func() []byte {
		var b bytes.Buffer
		if err := reports.WriteHTML(&b, s()); err != nil {
			panic(err)
		}
		return b.Bytes()
	})
}

// played are the frames of the demo's hasty program under two power-on memories.
var played = sync.OnceValue(func() (out [2][][]byte) {
	p, err := demo.Program("hasty")
	if err != nil {
		panic(err)
	}
	for i := range out {
		out[i], _ = demo.Trace(p.Runs(), uint64(i+1))
	}
	return out
})

// partsAt is the first frame on which the two differ.
var partsAt = sync.OnceValue(func() int64 {
	a := played()
	f := 0
	for bytes.Equal(a[0][f], a[1][f]) {
		f++
	}
	return int64(f)
})

func frame(run int, f int64, alt string) *reports.Picture {
	pix := played()[run][f]
	data, ok := frames[&pix[0]]
	if !ok {
		img := image.NewPaletted(image.Rect(0, 0, lamplighter.Width, lamplighter.Height), nil)
		for _, c := range lamplighter.Palette {
			img.Palette = append(img.Palette, c)
		}
		copy(img.Pix, pix)
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			panic(err)
		}
		data = b.Bytes()
		frames[&pix[0]] = data
	}
	return &reports.Picture{Data: data, Type: "image/png", Alt: alt, W: lamplighter.Width, H: lamplighter.Height}
}

// frames are those that were encoded, by their first pixel.
var frames = map[*byte][]byte{}

func template(file string) reports.Picture {
	data, err := fs.ReadFile(demo.Files(), file)
	if err != nil {
		panic(err)
	}
	return reports.Picture{Data: data, Type: "image/png", Alt: "template " + file}
}

func repeats(n int) (out []reports.Repeat) {
	for i := range n {
		out = append(out, reports.Repeat{
			Name: fmt.Sprintf("hasty-%d", i+1), Folder: fmt.Sprintf("runs/2031-05-17/hasty-%d", i+1), Verdict: "pass", State: "sealed",
			Clock: "measured", ClockWhy: "from 796 reads and the anchor at frame 62", PPM: 11.8, JitterUS: 3.9,
			Frames: 868, Reads: 820, Pictures: 866, Unseen: 2, UnseenFrames: []int64{101 + 7*int64(i), 640}, LagFrames: 2, LagAt: []int64{330, 337}, Seconds: 14.44,
		})
	}
	return out
}

func checkpoints(rs []reports.Repeat) (out []reports.Checkpoint) {
	for i, c := range []struct{ name, kind, file string }{{"the banner is up", "shows", "start-banner.png"}, {"first lamp catches", "shows", "lamp-lit.png"}} {
		cp := reports.Checkpoint{Name: c.name, Kind: c.kind, Asks: "shows " + strings.TrimSuffix(c.file, ".png") + " within 1 pixel of (86, 116)", At: "40", Verdict: "pass", Templates: []reports.Picture{template(c.file)}}
		for k, r := range rs {
			score := 0.991 - float64(k)/500
			seen := frame(0, 40, r.Name+", frame 40: what was seen")
			seen.Box = &[4]int{86, 116, 84, 7}
			res := reports.Result{Repeat: r.Name, Verdict: "pass", Frame: 40, Score: &score, Threshold: 0.9, At: &[2]int{86, 116}, Why: "best score 0.991, at least 0.90 asked", Seen: seen}
			switch {
			case i == 1 && k == 1:
				low := 0.412
				res.Verdict, res.Score, res.Why, cp.Verdict = "fail", &low, "best score 0.412 at (88, 169), at least 0.85 asked", "fail"
			case i == 1 && k == 2:
				res = reports.Result{Repeat: r.Name, Verdict: "unseen", Frame: 40, Why: "the capture has no picture of frame 40", Clock: "assumed"}
			}
			cp.Results = append(cp.Results, res)
		}
		out = append(out, cp)
	}
	return out
}

func rows(around int64) (out []reports.ReadAt) {
	for f := around - 6; f <= around+6; f++ {
		r := reports.ReadAt{Frame: f, A: fmt.Sprintf("read %d: right+b", f-12)}
		r.B = r.A
		if f == around {
			r.B, r.Differ = "no read", true
		}
		out = append(out, r)
	}
	return out
}

func survival(n int) *reports.Survival {
	return &reports.Survival{Repeats: n, Parted: 2, Confidence: 0.95, Sentence: "At the end, half of the repeats are still in lockstep with the first.", Steps: []reports.SurvivalStep{
		{Frame: 0, AtRisk: 4, Survival: 1, Low: 0.4, High: 1}, {Frame: 214, AtRisk: 4, Parted: 1, Survival: 0.75, SE: 0.2, Low: 0.19, High: 0.99}, {Frame: 868, AtRisk: 3, Survival: 0.5, SE: 0.25, Low: 0.07, High: 0.93},
	}}
}

func readTiming(rs []reports.Repeat) (out []reports.ReadTiming) {
	for i, r := range rs {
		t := reports.ReadTiming{Repeat: r.Name, Reads: r.Reads, PPM: r.PPM, JitterUS: r.JitterUS, PeakUS: 13, LagFrames: 2, ServiceMedianUS: 3.1, ServiceWorstUS: 5.4}
		for us := -12.0; us < 12; us++ {
			t.Bins = append(t.Bins, reports.Bin{FromUS: us, ToUS: us + 1, Count: int64(144 - us*us)})
		}
		for k := range 7 {
			tau := 0.01664 * float64(int(1)<<k)
			t.Allan = append(t.Allan, reports.StabilityPoint{TauS: tau, Value: 7e-6 / tau, Low: 6.6e-6 / tau, High: 7.4e-6 / tau, Terms: 800 >> k})
			t.TDEV = append(t.TDEV, reports.StabilityPoint{TauS: tau, Value: 4e-6, Low: 3.8e-6, High: 4.2e-6, Terms: 800 >> k})
		}
		if i == 1 {
			t.ExtraClocks, t.Board, t.Sentences = 3, true, []string{"3 reads had 9 clock pulses instead of 8 (reads 12, 40, 77): look at the clock line and its pull-up"}
		}
		out = append(out, t)
	}
	return out
}

func divergence(a, b string, family int, at int64, kind string) reports.Divergence {
	return reports.Divergence{
		A: a, B: b, Family: family, Frame: at, Since: at, Read: at - 12, Kind: kind, Region: &[4]int{96, 40, 32, 24},
		Why: fmt.Sprintf("the picture of %s first differs from that of %s at frame %d", b, a, at),
		Try: "Start from power instead of reset, or wait longer before the first press.", ProgramLine: 41, ProgramText: "hold right+b for 130", Mark: "lindens+18", ReadRows: rows(at),
		PictureA: frame(0, partsAt(), fmt.Sprintf("%s at frame %d", a, at)), PictureB: frame(1, partsAt(), fmt.Sprintf("%s at frame %d", b, at)),
		Window: window(a, b, at),
	}
}

// parted is a spec with two divergences, of five repeats.
func parted() reports.Spec {
	rs := repeats(5)
	for i, f := range []int{0, 1, 2, 0, -1} {
		rs[i].Family = f
	}
	rs[4].Verdict, rs[4].State, rs[4].Problems = "unseen", "partial", []string{"the feeder board stopped answering at read 306"}
	return reports.Spec{
		Name: "hasty", About: "The lamplighter does not wait for the moths.", File: "hasty.spec.yaml", ProgramFile: "hasty.prog", Reads: 760, Console: "ntsc-8bit",
		ProgramHash: "5b8c3cbf9a1e64d2f00d7a1e2b44a6bd9c1f5e0372c8d6e1b0a4f7c2918d3e5f", Verdict: "not held",
		Sentence: "Not frame-exact: 2 of 4 repeats stayed in lockstep with the first. They part at frame 214 (input): read 202 of hasty-2 was missed.",
		Lockstep: reports.Lockstep{InStep: 2, Repeats: 4, Required: 5, Low: 0.0676, High: 0.9324, Frames: 868, Unseen: 3, Survival: survival(3), Families: []reports.Family{
			{Repeats: []string{"hasty-1", "hasty-4"}, Parent: -1},
			{Repeats: []string{"hasty-2"}, From: 214, Kind: "input", Why: "read 202 of hasty-2 was missed"},
			{Repeats: []string{"hasty-3"}, From: partsAt(), Kind: "picture", Why: "every read before it is the same"},
		}},
		Repeats: rs, Checkpoints: checkpoints(rs), ReadTiming: readTiming(rs), Warnings: []string{"hasty-5: no answer from the feeder board in 2 s"},
		Divergences: []reports.Divergence{divergence("hasty-1", "hasty-2", 1, 214, "input"), divergence("hasty-1", "hasty-3", 2, partsAt(), "picture")},
		Suspects:    []reports.Suspect{{Frame: 77, A: "hasty-1", B: "hasty-4", Region: &[4]int{8, 8, 8, 8}}},
		Timings:     []reports.Timing{{Repeat: "hasty-1", Verdict: "pass", Frames: 312, Seconds: 5.19, Low: 311, High: 312, Why: "from the start banner to the first lamp"}},
	}
}

// eveningSession has one spec that parted.
func eveningSession() reports.Session {
	return reports.Session{
		Title: "Evening of the long cable", Made: time.Date(2031, 5, 17, 19, 42, 0, 0, time.UTC), Version: "0.1.0", Specs: []reports.Spec{parted()},
		Bench: reports.Bench{Name: "kitchen table", Console: "8-bit console, revision C", Feeder: "feeder board, revision 2", Card: "capture card, firmware 9", Latency: "41.30 ms ± 1.20 ms", RateHz: 59.94},
	}
}

// hostile are texts as a stranger's spec might hold them.
var hostile = []string{
	`<script>window.pwned=1;alert(1)</script>`, `"><img src=x onerror="window.pwned=1">`, `</style></title><script src=//h.invalid/x></script>`,
	"\u202egnp.exe\u2066", `'+alert(1)+'`, `https://h.invalid/`, `</script><script>window.pwned=1</script>`, "\u2028window.pwned=1//",
	strings.Repeat("endless", 400), "פנס ראשון",
}

// everythingSession is one with all that a page can hold: a baseline, a soak, two
// specs, and hostile text in every name and sentence of the second.
func everythingSession() reports.Session {
	s := eveningSession()
	s.Title += " " + hostile[0]
	bad := parted()
	n := 0
	for _, p := range texts(&bad) {
		if *p != "" {
			*p += " " + hostile[n%len(hostile)]
			n++
		}
	}
	s.Specs = append(s.Specs, bad)
	s.Soak = &reports.Soak{Claim: "divergence below 1% at 95%", Verdict: "cannot tell", Repeats: 120, Clean: 118, Parted: 1, Left: 1, CleanNeeded: 412, Sentence: "Not told yet.", Policy: "lean " + hostile[1]}
	at := int64(214)
	s.Baseline = &reports.Baseline{Sentence: "Worse: hasty parts in 3 of 7 candidate runs.", Verdict: "worse", Differs: []string{"feeder firmware: 1.4, 1.5", hostile[2]}, Specs: []reports.BaselineSpec{
		{Name: "hasty", Verdict: "worse", Sentence: "3 of 7 runs part.", PartsAt: &at, Survival: [2]*reports.Survival{survival(9), survival(3)}, Rows: []reports.BaselineRow{
			{What: "Repeats that part", Baseline: "0 of 20", Candidate: "3 of 7", P: "0.012", Verdict: "worse"}, {What: "Read jitter " + hostile[8], Baseline: "3.9 µs RMS", Candidate: "4.1 µs RMS", P: "0.81", Verdict: "no worse"}}},
		{Name: "patient " + hostile[5], Verdict: "cannot tell: 21 more repeats needed", Sentence: "Too few to tell."},
	}}
	return s
}

// texts are the fields of a spec that a stranger can fill.
func texts(s *reports.Spec) (out []*string) {
	out = append(out, &s.Name, &s.About, &s.File, &s.ProgramFile, &s.ProgramHash, &s.Console, &s.Sentence, &s.Note)
	for i := range s.Repeats {
		r := &s.Repeats[i]
		out = append(out, &r.Name, &r.Folder, &r.ClockWhy)
	}
	for i := range s.Checkpoints {
		c := &s.Checkpoints[i]
		out = append(out, &c.Name, &c.Asks, &c.At)
		for k := range c.Results {
			out = append(out, &c.Results[k].Repeat, &c.Results[k].Why)
		}
		for k := range c.Templates {
			out = append(out, &c.Templates[k].Alt)
		}
	}
	for i := range s.Divergences {
		d := &s.Divergences[i]
		out = append(out, &d.A, &d.B, &d.Kind, &d.Why, &d.Try, &d.ProgramText, &d.Mark, &d.PictureA.Alt, &d.PictureB.Alt)
		for k := range d.ReadRows {
			out = append(out, &d.ReadRows[k].A, &d.ReadRows[k].B)
		}
	}
	for i := range s.Lockstep.Families {
		out = append(out, &s.Lockstep.Families[i].Kind, &s.Lockstep.Families[i].Why)
	}
	for i := range s.Warnings {
		out = append(out, &s.Warnings[i])
	}
	return out
}

// hundredSession is one of a hundred repeats of ten minutes.
func hundredSession() reports.Session {
	s := eveningSession()
	sp := &s.Specs[0]
	sp.Repeats = repeats(100)
	for i := range sp.Repeats {
		r := &sp.Repeats[i]
		r.Frames, r.Reads, r.Pictures, r.Seconds, r.Family = 36060, 36000, 36020, 600, 0
		r.UnseenFrames = nil
		for f := int64(i); f < r.Frames; f += 901 {
			r.UnseenFrames = append(r.UnseenFrames, f)
		}
		r.Unseen = len(r.UnseenFrames)
	}
	sp.Checkpoints, sp.ReadTiming = checkpoints(sp.Repeats), readTiming(sp.Repeats)
	sp.Lockstep.Families, sp.Divergences = sp.Lockstep.Families[:1], nil
	for i := range 12 {
		r := &sp.Repeats[5+8*i]
		r.Family = i + 1
		at := int64(2000 + 1700*i)
		sp.Lockstep.Families = append(sp.Lockstep.Families, reports.Family{Repeats: []string{r.Name}, From: at, Kind: "picture"})
		sp.Divergences = append(sp.Divergences, divergence("hasty-1", r.Name, i+1, at, "picture"))
	}
	return s
}
