package clock

import (
	"math/big"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/console"
)

// Source: NTSC-family constants. The field rate is 60000/1001 Hz (subcarrier
// 315/88 MHz, line rate subcarrier*2/455, 525 lines, two fields; SMPTE 170M),
// the console's 39375000/655171 Hz; their ratio is 238875/238244. Picture k at
// k*1001/60000 s is of frame floor(k*238875/238244), so that frames are skipped
// at pictures 378, 756, 1133, 1511 and 1888 of the first 2000.
var _ = Describe("a 60000/1001 Hz capture of a 39375000/655171 Hz console", func() {
	const pictures = 2000
	var c *Clock

	BeforeEach(func() {
		// Exact instants, rounded to the microseconds and nanoseconds of the logs.
		nearest := func(num, den int64, unit int64) int64 {
			r := big.NewRat(num*unit, den)
			r.Add(r, big.NewRat(1, 2))
			return new(big.Int).Quo(r.Num(), r.Denom()).Int64()
		}
		reads := make([]ReadEvent, 2020)
		for n := range reads {
			reads[n] = ReadEvent{First: n, Pulses: 1, Time: nearest(int64(n)*655171, 39375000, 1e6)}
		}
		const latency = 40 * time.Millisecond
		stamps := make([]time.Duration, pictures)
		for k := range stamps {
			stamps[k] = latency + time.Duration(nearest(int64(k)*1001, 60000, 1e9))
		}
		fit, err := FitReads(reads, ntsc)
		Expect(err).NotTo(HaveOccurred())
		Expect(fit.PPM).To(BeNumerically("~", 0, 0.1))
		c, err = Build(Input{
			Reads: fit, Board: Line{Rate: 1, To: 40_000_000}, Stamps: stamps, Nominal: ntsc,
			CaptureRate: 60000. / 1001, Latency: Interval{latency, latency},
		})
		Expect(err).NotTo(HaveOccurred())
		Expect(c.State).To(Equal(Measured))
	})

	It("gives every picture its frame", func() {
		sure := 0
		for k, a := range c.Captures {
			if a.State == Sure {
				sure++
				Expect(int64(a.Frame)).To(Equal(int64(k)*238875/238244), "picture %d", k)
			}
		}
		// Only pictures within the guard of a boundary are left: picture 0, which
		// lies right on one, and a few at each skip.
		Expect(c.Summary().Guard).To(BeNumerically("<", 20))
		Expect(sure).To(BeNumerically(">=", pictures-15))
	})

	It("skips a frame at pictures 378, 756, 1133, 1511 and 1888", func() {
		var at []int
		for k := 2; k < pictures; k++ {
			if c.Captures[k].Frame-c.Captures[k-1].Frame == 2 {
				at = append(at, k)
			}
		}
		Expect(at).To(Equal([]int{378, 756, 1133, 1511, 1888}))
	})

	It("never has a picture of a skipped frame, and has one of all others that no unsure picture touches", func() {
		skipped := map[console.Frame]bool{378: true, 757: true, 1135: true, 1514: true, 1892: true}
		touched := map[console.Frame]bool{}
		for _, a := range c.Captures {
			if a.State == Unsure {
				touched[a.Frame-1], touched[a.Frame], touched[a.Frame+1] = true, true, true
			}
		}
		for f := console.Frame(2); f < 2004; f++ {
			switch state := c.FrameState(f); {
			case skipped[f]:
				Expect(state).To(Or(Equal(Unseen), And(Equal(Undecided), Satisfy(func(FrameState) bool { return touched[f] }))), "frame %d", f)
			case !touched[f]:
				Expect(state).To(Equal(Seen), "frame %d", f)
			default:
				Expect(state).NotTo(Equal(Unseen), "frame %d", f)
			}
		}
		Expect(c.FrameState(378)).To(Equal(Unseen))
	})
})
