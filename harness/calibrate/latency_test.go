package calibrate_test

import (
	"image"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness/calibrate"
	"latchproof/harness/judge"
	"latchproof/specs"
	"latchproof/specs/console"
)

// woven makes a bench's pictures woven of two fields, as small as that can be.
func woven(c *sim.Config, f sim.Fields) {
	c.Card.Height, c.Card.Active, c.Card.Fields = 512, image.Rect(16, 16, 272, 496), f
}

// The truth is the simulated bench's own (sim.Truth.Latency): from a frame's
// nominal read to the stamp of a picture taken when its showing begins.
var _ = Describe("latency, rate and fields", func() {
	notUnderRace()

	type benchCase struct {
		change  func(*sim.Config)
		repeats int
		rate    string
		half    time.Duration // at most
		fields  judge.Fields
	}
	DescribeTable("are found within what is claimed", func(x benchCase, seed uint64) {
		cfg := calm()
		cfg.Seed = seed
		x.change(&cfg)
		o := usual()
		o.Repeats = max(x.repeats, 3)
		r := try(cfg, o)
		k := r.Calibration
		Expect(k).NotTo(BeNil())
		truth := r.bench.Truth(1).Latency
		Expect(k.LatencyHalf).To(BeNumerically(">", 0))
		Expect(k.LatencyHalf).To(BeNumerically("<=", x.half))
		Expect((k.Latency - truth).Abs()).To(BeNumerically("<=", k.LatencyHalf), "%v ± %v, and it is %v", k.Latency, k.LatencyHalf, truth)
		Expect(k.Rate).To(Equal(x.rate))
		// Every repeat's clock is off a little differently, and late stamps on runs
		// of 2.5 s may be late at one end and punctual at the other.
		Expect(k.RatePPM).To(BeNumerically("~", cfg.Card.PPM, 12+cfg.Card.HostJitter/20))
		Expect(k.Fields).To(Equal(x.fields))
		Expect(k.Active).To(Equal(cfg.Card.Active))
		Expect(k.AnswerFrames).To(Equal(1))
	},
		Entry("59.94 Hz, never calibrated, noise", benchCase{func(c *sim.Config) {
			c.Card.LatencyHalf, c.Card.Latency, c.Card.Noise = 0, 77_700, 8
		}, 3, "60000/1001", 300 * time.Microsecond, judge.NoFields}, uint64(8)),
		Entry("60 Hz", benchCase{func(c *sim.Config) {
			c.Card.Rate, c.Card.Latency = console.Rate{Num: 60, Den: 1}, 8_000
		}, 3, "60/1", 300 * time.Microsecond, judge.NoFields}, uint64(9)),
		Entry("the console's own rate", benchCase{func(c *sim.Config) {
			c.Card.Rate = console.Rate{}
		}, 4, "39375000/655171", 8 * time.Millisecond, judge.NoFields}, uint64(11)),
		Entry("fields, the top one first", benchCase{func(c *sim.Config) { woven(c, sim.FieldsTop) },
			3, "30000/1001", 300 * time.Microsecond, judge.TopFirst}, uint64(12)),
		Entry("fields, the bottom one first, colour of half the columns", benchCase{func(c *sim.Config) {
			woven(c, sim.FieldsBottom)
			c.Card.Chroma = sim.Chroma422
		}, 3, "30000/1001", 300 * time.Microsecond, judge.BottomFirst}, uint64(13)),
		Entry("stamps that come late by turns", benchCase{func(c *sim.Config) { c.Card.HostJitter = 3000 },
			3, "60000/1001", 2 * time.Millisecond, judge.NoFields}, uint64(14)),
		Entry("H.264", benchCase{func(c *sim.Config) { c.Card.Codec = sim.CodecH264 },
			3, "60000/1001", 300 * time.Microsecond, judge.NoFields}, uint64(15)),
	)

	It("is later by a frame when the game is said to answer a frame earlier", func() {
		o := short()
		o.Reference = nil
		one := try(calm(), o)
		o.AnswerFrames = 2
		two := try(calm(), o)
		period := time.Duration(ntsc.Rate.Period() * 1e9)
		Expect(one.Calibration.Latency - two.Calibration.Latency).To(BeNumerically("~", period, 5*time.Microsecond))
		Expect(two.Calibration.AnswerFrames).To(Equal(2))
		Expect(raised(two.Report)).To(ConsistOf("latency.changed"))
	})

	It("says so when nothing answers", func() {
		o := usual()
		o.Spec = specOf("program 1\nrest 8\ntap start\nrest 40\nmark answer\ntap select\nrest 60\n", specs.StartReset)
		r := try(calm(), o)
		f, _ := r.Find("latency")
		Expect(f.Verdict).To(Equal(calibrate.Look))
		Expect(f.Measured).To(ContainSubstring("none of 3 presses"))
		Expect(r.Calibration.LatencyHalf).To(BeZero())
	})
})

var _ = Describe("the active picture", func() {
	notUnderRace()

	quick := func() calibrate.Options {
		return calibrate.Options{Repeats: 2, Spec: specOf("program 1\nrest 8\ntap start\nrest 14\nmark answer\ntap up\nrest 20\n", specs.StartReset)}
	}
	DescribeTable("is exact to the pixel", func(w, h int, active image.Rectangle, scale sim.Scale) {
		cfg := calm()
		cfg.Card.Width, cfg.Card.Height, cfg.Card.Active, cfg.Card.Scale = w, h, active, scale
		r := try(cfg, quick())
		Expect(r.Calibration.Active).To(Equal(active))
		f, _ := r.Find("picture.active")
		Expect(f.Verdict).To(Equal(calibrate.OK), f.Measured)
	},
		Entry("a border all around", 640, 480, image.Rect(40, 16, 600, 464), sim.ScaleArea),
		Entry("no border", 256, 240, image.Rect(0, 0, 256, 240), sim.ScaleArea),
		Entry("at odd places", 640, 480, image.Rect(31, 3, 607, 478), sim.ScaleArea),
		Entry("a border on one side", 600, 480, image.Rect(24, 0, 600, 480), sim.ScaleLinear),
		Entry("nearest pixels", 720, 480, image.Rect(8, 0, 712, 480), sim.ScaleNearest),
	)

	DescribeTable("is within 0.15 pixels for fractions", func(w, h int, active image.Rectangle, dx, dy float64) {
		cfg := calm()
		cfg.Card.Width, cfg.Card.Height, cfg.Card.Active, cfg.Card.Offset = w, h, active, [2]float64{dx, dy}
		r := try(cfg, quick())
		got := r.Calibration.ActiveExact
		want := [4]float64{float64(active.Min.X) + dx, float64(active.Min.Y) + dy, float64(active.Dx()), float64(active.Dy())}
		for i := range want {
			Expect(got[i]).To(BeNumerically("~", want[i], 0.15), "%v, want %v", got, want)
		}
		Expect(raised(r.Report)).To(ContainElement("picture.active"))
	},
		Entry("half a pixel, small", 288, 256, image.Rect(16, 8, 272, 248), 0.5, 0.5),
		Entry("half a pixel", 640, 480, image.Rect(32, 2, 608, 478), 0.5, -0.5),
		Entry("a third", 640, 480, image.Rect(32, 2, 608, 478), -0.35, 0.3),
	)
})
