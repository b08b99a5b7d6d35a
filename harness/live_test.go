package harness_test

import (
	"context"
	"encoding/json"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/live"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/vision"
)

const shortProgram = `program 1
rest 52
tap start
rest 40
`

const shortSpec = `version: 1
spec: short
program: short.prog
console: ntsc-8bit
repeats: 1
checkpoints:
  - name: the banner is up
    at: [30, 45]
    shows: {template: start-banner, near: [86, 116]}
  - name: stands at the gate
    at: [62, 80]
    shows: {template: lamplighter-idle, near: [40, 176], within: 1}
`

// short is a run of two and a half seconds.
func short() *specs.Spec {
	GinkgoHelper()
	dir := GinkgoT().TempDir()
	Expect(demo.Write(dir)).To(Succeed())
	for name, text := range map[string]string{"short.prog": shortProgram, "short.spec.yaml": shortSpec} {
		Expect(os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666)).To(Succeed())
	}
	s, err := specs.Load(filepath.Join(dir, "short.spec.yaml"), checks.All)
	Expect(err).NotTo(HaveOccurred())
	return s
}

// heard gathers what a run tells while it goes on.
type heard struct {
	mu   sync.Mutex
	fell []live.Finding
	run  *harness.Run
}

func (h *heard) Fell(_ string, _, _ int, f live.Finding) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.fell = append(h.fell, f)
}
func (h *heard) Settled(_ string, _, _ int, run *harness.Run) { h.run = run }

func workbench() (*sim.Workbench, *harness.RealBench) {
	GinkgoHelper()
	cfg := sim.Default()
	cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 320, 240, image.Rect(16, 0, 304, 240)
	w, err := sim.OpenWorkbench(cfg, GinkgoT().TempDir())
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(w.Close)
	f, err := harness.ParseBench("workbench.yaml", []byte(w.BenchFile()))
	Expect(err).NotTo(HaveOccurred())
	return w, harness.NewRealBench(f)
}

var _ = Describe("a bench that is captured live", func() {
	It("is played, recorded byte for byte, judged while it plays and sealed", func(ctx context.Context) {
		w, bench := workbench()
		h := &heard{}
		p := &harness.Player{Bench: bench, Out: GinkgoT().TempDir(), Version: "test", Live: h}
		run, err := p.Play(ctx, short(), 1, 1)
		Expect(err).NotTo(HaveOccurred())
		defer run.Close()
		Expect(run.State).To(Equal(record.Sealed))
		Expect(run.Clock.State).To(Equal(clock.Measured), run.Clock.Why)
		for _, r := range run.Results {
			Expect(r.Verdict).To(Equal(judge.Pass), "%s: %s", r.Name, r.Why)
		}
		Expect(run.EarlyWhy).To(BeEmpty())
		Expect(h.run).To(BeIdenticalTo(run))
		Expect(h.fell).To(HaveLen(2))
		Expect(h.fell).To(Equal(run.Early))

		// What became of the card's pictures is in the record.
		rec, err := record.Open(run.Dir)
		Expect(err).NotTo(HaveOccurred())
		var report live.Account
		Expect(json.Unmarshal(rec.Meta.Capture, &report)).To(Succeed())
		Expect(report.Format).To(Equal(live.MJPEG))
		Expect(report.Ours).To(BeZero())
		Expect(report.Pictures).To(BeNumerically(">", 150))
		Expect(report.Pictures).To(BeEquivalentTo(run.Counts.Pictures))

		// Judged again from the folder it says the same.
		again, err := harness.JudgeRecorded(ctx, run.Dir, run.Spec, false, nil)
		Expect(err).NotTo(HaveOccurred())
		defer again.Close()
		Expect(again.Counts).To(Equal(run.Counts))

		// Every picture that stands for a frame is of that frame: the console knows
		// when it showed what.
		Expect(w.Close()).To(Succeed())
		truth := map[string]int64{}
		kept := packets(w.Kept)
		shown := w.Truth().Captures
		Expect(len(shown)).To(BeNumerically(">=", len(kept)))
		for i, b := range kept {
			truth[b] = int64(shown[i].Frame)
		}
		rows, err := rec.Frames()
		Expect(err).NotTo(HaveOccurred())
		got := packets(filepath.Join(run.Dir, record.CaptureFile))
		Expect(got).To(HaveLen(len(rows)))
		fresh, same := 0, 0
		for i, r := range rows {
			f, known := truth[got[i]]
			if known {
				same++
			}
			if r.State == record.Fresh {
				Expect(known).To(BeTrue(), "picture %d", i)
				Expect(int64(r.Frame)).To(Equal(f), "picture %d", i)
				fresh++
			}
		}
		Expect(fresh).To(BeNumerically(">", 100))
		Expect(same).To(BeNumerically(">", 140), "bytes as the card made them")
	})

	It("leaves a partial run when the stream ends, without playing on", func(ctx context.Context) {
		w, bench := workbench()
		h := &heard{}
		p := &harness.Player{Bench: bench, Out: GinkgoT().TempDir(), Version: "test", Live: h, Progress: after{60, w.Unplug}}
		run, err := p.Play(ctx, short(), 1, 1)
		Expect(err).To(MatchError(live.ErrGone))
		Expect(err).NotTo(MatchError(context.Canceled))
		Expect(run.State).To(Equal(record.Partial))
		_, err = record.Open(run.Dir)
		Expect(err).To(MatchError(record.ErrPartial))
		Expect(err).To(MatchError(ContainSubstring("card.fifo ended")))
		reads, err := os.ReadFile(filepath.Join(run.Dir, record.ReadsFile))
		Expect(err).NotTo(HaveOccurred())
		Expect(len(reads)).To(BeNumerically("<", 150*20))
	})

	It("leaves a partial run that names the stream when that is not there", func(ctx context.Context) {
		w, _ := workbench()
		f, err := harness.ParseBench("b.yaml", []byte(strings.ReplaceAll(w.BenchFile(), "card.fifo", "other.fifo")))
		Expect(err).NotTo(HaveOccurred())
		p := &harness.Player{Bench: harness.NewRealBench(f), Out: GinkgoT().TempDir(), Version: "test"}
		run, err := p.Play(ctx, short(), 1, 1)
		Expect(err).To(MatchError(live.ErrNoCard))
		Expect(err).To(MatchError(ContainSubstring("other.fifo: no such file")))
		Expect(run.State).To(Equal(record.Partial))
	})

	DescribeTable("has a bench file that says how",
		func(card, says string) {
			_, err := harness.ParseBench("b.yaml", []byte("bench: b\nfeeder: {port: /dev/ttyACM0}\ncard: {"+card+"}\n"))
			if says == "" {
				Expect(err).NotTo(HaveOccurred())
				return
			}
			Expect(err).To(MatchError(ContainSubstring(says)))
		},
		Entry("a device", "device: /dev/video0, format: mjpeg, size: [1280, 720], rate: 60/1", ""),
		Entry("a stream", "stream: /tmp/fifo", ""),
		Entry("both", "device: /dev/video0, format: mjpeg, size: [2, 2], stream: /tmp/fifo", "not both"),
		Entry("a device without a size", "device: /dev/video0, format: mjpeg", "needs its `format` and its `size`"),
		Entry("a format that is none", "stream: /tmp/fifo, format: h264", "mjpeg, yuyv or nv12"),
		Entry("an odd size", "stream: /tmp/fifo, format: yuyv, size: [3, 2]", "even"),
		Entry("a format of nothing", "model: card, format: mjpeg", "need a `device` or a `stream`"),
	)
})

// telling is a bench whose card calls some of its pictures damaged.
type telling struct {
	harness.Bench
	account live.Account
}

type tellingSession struct {
	harness.Session
	account live.Account
}

type tellingCapture struct {
	harness.Capture
	account live.Account
}

func (b telling) Open(ctx context.Context, n int) (harness.Session, error) {
	s, err := b.Bench.Open(ctx, n)
	return tellingSession{s, b.account}, err
}
func (s tellingSession) Capture() harness.Capture {
	return tellingCapture{s.Session.Capture(), s.account}
}
func (c tellingCapture) Report() live.Account { return c.account }

var _ = Describe("what a card says of its pictures", func() {
	It("is in the run's record, and stays with the run", func(ctx context.Context) {
		cfg := sim.Default()
		cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 320, 240, image.Rect(16, 0, 304, 240)
		p := player(cfg)
		p.KeepScreens = false
		at := []int64{60, 61, 90}
		p.Bench = telling{p.Bench, live.Account{Source: "card", Pictures: 1, Card: 2, Ours: 1, Damaged: 3, DamagedAt: at,
			Gaps: []live.Gap{{After: 4, Card: 2, Ours: 1}}}}
		run, err := p.Play(ctx, short(), 1, 1)
		Expect(err).NotTo(HaveOccurred())
		defer run.Close()
		Expect(run.Counts.Damaged).To(Equal(3))
		Expect(run.Problems).To(ContainElements("capture: 2 pictures were lost by the card",
			ContainSubstring("1 picture was lost by this program"), "capture: 3 pictures are damaged, says the card"))
		rec, err := record.Open(run.Dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(string(rec.Meta.Capture)).To(MatchRegexp(`"lost_by_us": *1`))
		rows, err := rec.Frames()
		Expect(err).NotTo(HaveOccurred())
		for i, r := range rows {
			Expect(r.State == record.Damaged).To(Equal(slices.Contains(at, int64(i))), "picture %d", i)
		}
		for _, all := range []bool{false, true} {
			again, err := harness.JudgeRecorded(ctx, run.Dir, run.Spec, all, nil)
			Expect(err).NotTo(HaveOccurred())
			Expect(again.Counts).To(Equal(run.Counts))
			Expect(again.Problems).To(Equal(run.Problems))
			Expect(again.Close()).To(Succeed())
		}
	})
})

// after calls do once that many reads were made.
type after struct {
	reads int64
	do    func()
}

func (after) Stage(string, int, int, string, int64) {}
func (a after) Advance(done int64) {
	if done >= a.reads {
		a.do()
	}
}
func (after) Ended(string, int, int, string) {}

// packets are the coded pictures of a recording, byte for byte.
func packets(path string) []string {
	GinkgoHelper()
	v, err := vision.OpenVideo(path)
	Expect(err).NotTo(HaveOccurred())
	defer v.Close()
	src, err := os.ReadFile(path)
	Expect(err).NotTo(HaveOccurred())
	var out []string
	for i := 0; i+9 < len(src); {
		// Simple blocks of track 1, as both files have them (RFC 9559 section 10.2).
		if src[i] == 0xa3 && src[i+1]>>4 == 1 && src[i+5] == 0x81 && src[i+8] == 0x80 && src[i+9] == 0xff {
			n := int(src[i+1]&0xf)<<24 | int(src[i+2])<<16 | int(src[i+3])<<8 | int(src[i+4])
			out = append(out, string(src[i+9:i+5+n]))
			i += 5 + n
			continue
		}
		i++
	}
	Expect(out).To(HaveLen(len(v.Scan().Stamps)))
	return out
}
