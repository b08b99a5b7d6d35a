package calibrate_test

import (
	"context"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness/calibrate"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

func parse(text string) *program.Program {
	GinkgoHelper()
	return specOf(text, specs.StartReset).Program
}

// on is a check on a calm bench.
func on(o calibrate.Options) calibrate.Options {
	b, err := sim.New(calm(), sim.Options{Pipe: true})
	Expect(err).NotTo(HaveOccurred())
	o.Bench = b
	return o
}

var _ = Describe("the program without its presses", func() {
	const a, right = 1 << 0, 1 << 7
	state := func(p1 uint16, n int64) program.Run { return program.Run{State: program.State{P1: p1}, Count: n} }

	It("releases what goes down at the marks and nothing else, until the program releases it", func() {
		p := parse("program 1\nhold right for 3\nmark answer-x\nhold right+a for 4\nhold right for 2\nmark answer\nhold a+b for 2\nhold b for 1\nrest 1\nhold a for 1\n")
		runs, err := calibrate.Without(p, "answer")
		Expect(err).NotTo(HaveOccurred())
		Expect(runs).To(Equal([]program.Run{state(right, 9), state(0, 4), state(a, 1)}))
	})
	It("keeps other marks, and marks that only begin alike", func() {
		p := parse("program 1\nrest 1\nmark answers\nhold a for 2\nmark answer\nhold a+b for 2\n")
		runs, err := calibrate.Without(p, "answer")
		Expect(err).NotTo(HaveOccurred())
		Expect(runs).To(Equal([]program.Run{state(0, 1), state(a, 4)}))
	})
	It("refuses a mark at which no button goes down", func() {
		_, err := calibrate.Without(parse("program 1\nhold a for 2\nmark answer\nhold a for 2\n"), "answer")
		Expect(err).To(MatchError(calibrate.ErrProgram))
	})
	It("refuses programs without a mark, too long ones, and odd options", func() {
		o := usual()
		o.Dir = GinkgoT().TempDir()
		o.Mark = "no-such"
		_, err := calibrate.Check(context.Background(), on(o))
		Expect(err).To(MatchError(calibrate.ErrProgram))
		for _, change := range []func(*calibrate.Options){
			func(o *calibrate.Options) { o.Repeats = 1 },
			func(o *calibrate.Options) { o.AnswerFrames = 61 },
			func(o *calibrate.Options) {
				o.Spec = specOf("program 1\nmark answer\ntap a\nrest 20000\n", specs.StartReset)
			},
		} {
			o := usual()
			change(&o)
			_, err := calibrate.Check(context.Background(), on(o))
			Expect(err).To(HaveOccurred())
		}
	})
})

// Recommendations ITU-R BT.470 and BT.601: 525-line systems have 30000/1001
// pictures and 60000/1001 fields a second, 625-line systems 25 and 50. The
// console's own rate follows from its crystal (package console).
var _ = DescribeTable("the nearest standard rate", func(hz float64, want console.Rate, ppm float64) {
	got, off := calibrate.NearestRate(hz, ntsc)
	Expect(got).To(Equal(want))
	Expect(off).To(BeNumerically("~", ppm, 0.01))
},
	// 60000/1001 = 59.94005994..., 30000/1001 = 29.97002997...
	Entry("525 lines, fields", 59.94005994005994, console.Rate{Num: 60000, Den: 1001}, 0.0),
	Entry("525 lines, pictures", 29.97002997002997, console.Rate{Num: 30000, Den: 1001}, 0.0),
	Entry("625 lines, fields", 50.0005, console.Rate{Num: 50, Den: 1}, 10.0),
	Entry("625 lines, pictures", 24.9995, console.Rate{Num: 25, Den: 1}, -20.0),
	Entry("displays", 60.003, console.Rate{Num: 60, Den: 1}, 50.0),
	Entry("the console", 60.0988138974405, ntsc.Rate, 0.0),
)

// bars are the 75 % colour bars: white, yellow, cyan, green, magenta, red, blue,
// black, as wide as the raster.
func bars(codes [8][3]byte) *screen.Screen {
	s := screen.New(256, 240)
	for i := range s.Y {
		c := codes[i%256/32]
		s.Y[i], s.Cb[i], s.Cr[i] = c[0], c[1], c[2]
	}
	return s
}

// The code values of the 75 % bars in limited range: Recommendation ITU-R BT.601
// (8 bits), the same as in the constant tables of FFmpeg's pal75bars source.
var limitedBars = [8][3]byte{
	{180, 128, 128}, {162, 44, 142}, {131, 156, 44}, {112, 72, 58}, {84, 184, 198}, {65, 100, 212}, {35, 212, 114}, {16, 128, 128},
}

// fullBars are the same bars in full range: Y' = 255 (Y-16)/219 and C' = 128 +
// 255 (C-128)/224 of the exact values, rounded.
var fullBars = [8][3]byte{
	{191, 128, 128}, {169, 32, 144}, {134, 160, 32}, {112, 65, 48}, {79, 191, 208}, {57, 96, 224}, {22, 224, 112}, {0, 128, 128},
}

var _ = Describe("levels and colour", func() {
	It("knows limited range taken for full by the bars of BT.601", func() {
		gain, offset, saturation, _, alike := calibrate.Tone(bars(fullBars), bars(limitedBars))
		Expect(gain).To(BeNumerically("~", 219.0/255, 0.003))
		Expect(offset).To(BeNumerically("~", 16, 0.4))
		Expect(saturation).To(BeNumerically("~", 224.0/219, 0.01)) // against the gain of luma
		Expect(alike).To(BeNumerically(">", 0.999))
		Expect(calibrate.RangeMistake(gain, offset)).To(ContainSubstring("limited range taken for full"))
	})
	It("knows full range taken for limited", func() {
		gain, offset, _, _, _ := calibrate.Tone(bars(limitedBars), bars(fullBars))
		Expect(gain).To(BeNumerically("~", 255.0/219, 0.004))
		Expect(offset).To(BeNumerically("~", -16*255.0/219, 0.5))
		Expect(calibrate.RangeMistake(gain, offset)).To(ContainSubstring("full range taken for limited"))
	})
	It("calls neither what is right, nor a gain that is off", func() {
		gain, offset, saturation, detail, _ := calibrate.Tone(bars(fullBars), bars(fullBars))
		Expect([]float64{gain, saturation}).To(HaveEach(BeNumerically("~", 1, 1e-9)))
		Expect([]float64{offset, detail}).To(HaveEach(BeNumerically("~", 0, 1e-6)))
		Expect(calibrate.RangeMistake(gain, offset)).To(BeEmpty())
		Expect(calibrate.RangeMistake(1.1, 0)).To(BeEmpty())
		Expect(calibrate.RangeMistake(0.86, 0)).To(BeEmpty())
	})
	It("tells that a picture is not that of the reference", func() {
		flat := bars([8][3]byte{})
		_, _, _, _, alike := calibrate.Tone(bars(fullBars), flat)
		Expect(alike).To(BeZero())
	})
})

var _ = Describe("arithmetic", func() {
	It("settles where the fewest bounds are wrong", func() {
		lo, hi, wrong := calibrate.Settle([]float64{2.6, 2.9, 3.4}, []float64{1.8, 2.4, 2.1})
		Expect([]float64{lo, hi}).To(Equal([]float64{2.4, 2.6}))
		Expect(wrong).To(BeZero())
		// One picture says that it is at most 1, against three that say otherwise.
		lo, hi, wrong = calibrate.Settle([]float64{2.6, 2.9, 1.0}, []float64{1.8, 2.4, 2.1})
		Expect([]float64{lo, hi}).To(Equal([]float64{2.4, 2.6}))
		Expect(wrong).To(Equal(1))
	})
	It("measures noise in spite of what moves", func() {
		rng := rand.New(rand.NewPCG(3, 4))
		a, b := screen.New(256, 240), screen.New(256, 240)
		for i := range a.Y {
			noisy := func(sigma float64) byte { return byte(128.5 + sigma*rng.NormFloat64()) }
			a.Y[i], a.Cb[i], a.Cr[i] = noisy(5), noisy(2), noisy(3)
			b.Y[i], b.Cb[i], b.Cr[i] = noisy(5), noisy(2), noisy(3)
			if i%256 < 100 { // a third of the picture moves
				b.Y[i] ^= 0x55
			}
		}
		got := calibrate.Measure(a, b)
		// Rounding adds 1/12 of a level squared. With 13 of 32 columns of blocks out
		// of it, the middle of all blocks is the quantile 0.842 of those that stand
		// still; of chi square with 64 degrees of freedom that is 75.29, and the
		// median 63.33 (Wilson and Hilferty): 5.01 * sqrt(75.29/63.33).
		Expect(got[0]).To(BeNumerically("~", 5.46, 0.1))
		Expect(got[1]).To(BeNumerically("~", 2.02, 0.05))
		Expect(got[2]).To(BeNumerically("~", 3.01, 0.06))
	})
	It("finds an edge with its fraction, and none in the dark", func() {
		at, ok := calibrate.EdgeOf([]float64{0, 0.2, 0, 40, 41, 39, 40})
		Expect(ok).To(BeTrue())
		Expect(at).To(BeNumerically("==", 3))
		at, ok = calibrate.EdgeOf([]float64{0, 0, 10, 40, 40, 40, 40})
		Expect(ok).To(BeTrue())
		Expect(at).To(BeNumerically("~", 2.75, 1e-9))
		at, ok = calibrate.EdgeOf([]float64{40, 40, 40, 40})
		Expect(ok).To(BeTrue())
		Expect(at).To(BeZero())
		_, ok = calibrate.EdgeOf([]float64{0, 0.1, 0.3, 0.2, 0.5, 1})
		Expect(ok).To(BeFalse())
	})
})
