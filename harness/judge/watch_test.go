package judge_test

import (
	"bytes"
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/vision"
)

const rasterW, rasterH = 64, 48

// footage is a small capture of a console whose screen is a bar that moves and,
// from frame bright on, a bright first pixel.
type footage struct {
	frames  int
	bright  int
	noise   bool
	latency time.Duration
	repeat  map[int]bool // pictures that the card delivers again
}

// input writes the capture and makes the read log that belongs to it, on one
// clock for board and host.
func (f footage) input() judge.Input {
	GinkgoHelper()
	profile, _ := console.Builtin("ntsc-8bit")
	profile.Width, profile.Height = rasterW, rasterH
	in := judge.Input{Console: profile, CaptureRate: 60000.0 / 1001, Video: filepath.Join(GinkgoT().TempDir(), "c.mkv")}
	rng := rand.New(rand.NewPCG(1, uint64(f.frames)))
	start := 2 * time.Second
	period := profile.Rate.Period()
	for n := range f.frames {
		at := start + time.Duration(float64(n)*period*1e9)
		in.Latches = append(in.Latches, feeder.Latch{Index: int64(n), Micros: at.Microseconds(), Clocks: 8})
	}
	for i := range 80 {
		at := 1500*time.Millisecond + time.Duration(i)*5*time.Millisecond
		if i >= 40 {
			at = start + time.Duration((float64(f.frames)*period+0.5)*1e9) + time.Duration(i)*5*time.Millisecond
		}
		in.Syncs = append(in.Syncs, feeder.Sync{Sent: at - time.Millisecond, Received: at + time.Millisecond, Micros: at.Microseconds()})
	}
	rec, err := vision.CreateVideo(in.Video, vision.MJPEG, 2*rasterW, 2*rasterH, in.CaptureRate)
	Expect(err).NotTo(HaveOccurred())
	img := vision.NewImage()
	defer img.Close()
	var bgr []byte
	for k := range f.frames + 12 {
		stamp := start - 120*time.Millisecond + time.Duration(float64(k)*1001/60000*1e9)
		in.Stamps = append(in.Stamps, stamp)
		if !f.repeat[k] {
			n := int(((stamp - start - f.latency).Seconds() + 10*period) / period)
			bgr = f.draw(n-10, rng)
		}
		Expect(img.SetBGR(2*rasterW, 2*rasterH, bgr)).To(Succeed())
		Expect(rec.Write(img)).To(Succeed())
	}
	Expect(rec.Close()).To(Succeed())
	return in
}

func (f footage) draw(n int, rng *rand.Rand) []byte {
	bgr := make([]byte, 4*rasterW*rasterH*3)
	for y := range 2 * rasterH {
		for x := range 2 * rasterW {
			v := byte(20)
			switch {
			case n >= f.bright && x < 16 && y < 16:
				v = 200
			case n >= 0 && y > rasterH && (x/2-n%32+64)%16 < 3:
				v = 150
			}
			if f.noise {
				v += byte(rng.IntN(7))
			}
			i := 3 * (y*2*rasterW + x)
			bgr[i], bgr[i+1], bgr[i+2] = v, v, v
		}
	}
	return bgr
}

func anchored(f console.Frame) *specs.Anchor {
	return &specs.Anchor{Frame: f, Check: bright{}}
}

var _ = Describe("watching a capture", func() {
	const latency = 40 * time.Millisecond
	calibrated := clock.Around(latency, 200*time.Microsecond)
	base := footage{frames: 260, bright: 100, noise: true, latency: latency}

	It("gives every picture its frame and writes the trace", func(ctx context.Context) {
		in := base.input()
		in.Latency = calibrated
		var trace bytes.Buffer
		in.Trace = &trace
		store, err := judge.NewStore(GinkgoT().TempDir())
		Expect(err).NotTo(HaveOccurred())
		defer store.Close()
		in.Store = store
		w, err := judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Measured), w.Clock.Why)
		Expect(w.Problems).To(BeEmpty())
		Expect(w.Counts.Fresh).To(BeNumerically(">", 220))
		inRun := 0
		for _, r := range w.Rows {
			if r.State == record.Fresh && r.Frame <= w.Last {
				inRun++
			}
		}
		Expect(inRun + w.Counts.Unseen).To(Equal(w.Counts.Frames))
		path := filepath.Join(GinkgoT().TempDir(), "t.lpt")
		Expect(os.WriteFile(path, trace.Bytes(), 0o666)).To(Succeed())
		t, err := lockstep.OpenTrace(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(t.Layout()).To(Equal(lockstep.Layout{W: rasterW, H: rasterH}))
		for _, r := range w.Rows {
			if r.State == record.Fresh {
				_, err := store.JPEG(r.Frame)
				Expect(err).NotTo(HaveOccurred())
			}
		}
		_, err = store.JPEG(99999)
		Expect(err).To(MatchError(judge.ErrUnseen))
	})

	It("holds an anchor against the calibration, and trusts neither when they disagree", func(ctx context.Context) {
		in := base.input()
		in.Latency = calibrated
		in.Anchor = anchored(100)
		w, err := judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Measured), w.Clock.Why)
		in.Anchor = anchored(103)
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Untrusted))
		Expect(w.Counts.Fresh).To(BeZero())
	})

	It("goes on without the anchor when calibrated, and says so", func(ctx context.Context) {
		f := base
		f.bright = 9999
		in := f.input()
		in.Latency = calibrated
		in.Anchor = anchored(100)
		w, err := judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Measured))
		Expect(w.Problems).To(ContainElement(ContainSubstring("anchor never appeared")))
		in.Latency = clock.Interval{}
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Untrusted))
		Expect(w.Counts.Fresh).To(BeZero())
	})

	It("assumes from the anchor alone, with and without a read log", func(ctx context.Context) {
		in := base.input()
		in.Anchor = anchored(100)
		w, err := judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Assumed))
		in.Latches, in.Syncs = nil, nil
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Assumed))
		Expect(w.Counts.Fresh).To(BeNumerically(">", 200))
		in.Stamps = nil // as of an imported file
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Clock.State).To(Equal(clock.Assumed))
		Expect(w.Counts.Fresh).To(BeNumerically(">", 200))
	})

	It("takes a picture that comes twice for a repeat, but only where there is noise", func(ctx context.Context) {
		f := base
		f.repeat = map[int]bool{120: true, 121: true, 200: true}
		in := f.input()
		in.Latency = calibrated
		w, err := judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		for k := range f.repeat {
			Expect(w.Rows[k].State).To(Equal(record.Repeat), "picture %d", k)
		}
		Expect(w.Counts.Repeats).To(Equal(3))

		// The same source without noise: the scene moves and stands by turns.
		clean := base
		clean.noise = false
		in = clean.input()
		in.Latency = calibrated
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Counts.Repeats).To(BeZero())

		still := footage{frames: 200, bright: 0, latency: latency}
		for k := range 250 {
			if still.repeat == nil {
				still.repeat = map[int]bool{}
			}
			still.repeat[k] = k > 0
		}
		in = still.input()
		in.Latency = calibrated
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Counts.Repeats).To(BeZero())
		Expect(w.Counts.Fresh).To(BeNumerically(">", 160))
	})

	It("says when pictures and instants do not match, and when the file is cut short", func(ctx context.Context) {
		in := base.input()
		in.Latency = calibrated
		all := in.Stamps
		in.Stamps = all[:200]
		w, err := judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Problems).To(ContainElement(ContainSubstring("more pictures than instants")))
		Expect(w.Rows).To(HaveLen(200))
		in.Stamps = all
		st, err := os.Stat(in.Video)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.Truncate(in.Video, st.Size()/2)).To(Succeed())
		w, err = judge.Watch(ctx, in)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.Problems).To(ContainElement(ContainSubstring("cut short")))
		Expect(w.Counts.Unseen).To(BeNumerically(">", 80))
	})

	It("stops when the context ends", func(ctx context.Context) {
		in := base.input()
		in.Latency = calibrated
		ctx, cancel := context.WithCancel(ctx)
		in.Progress = func(k int) {
			if k >= 64 {
				cancel()
			}
		}
		_, err := judge.Watch(ctx, in)
		Expect(err).To(MatchError(context.Canceled))
	})

	It("refuses what is no video", func(ctx context.Context) {
		path := filepath.Join(GinkgoT().TempDir(), "x.mkv")
		Expect(os.WriteFile(path, []byte("no video"), 0o666)).To(Succeed())
		_, err := judge.Watch(ctx, judge.Input{Video: path})
		Expect(err).To(MatchError(vision.ErrNoVideo))
	})
})
