package harness_test

import (
	"encoding/json"
	"image"
	"os"
	"path/filepath"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness"
	"latchproof/harness/judge"
)

// sample is a calibration with everything in it.
func sample() *harness.Calibration {
	gain, offset, saturation := 1.02, -3.5, 0.98
	return &harness.Calibration{
		Made: "2026-11-25",
		Card: harness.Part{Model: "HDMI card", Serial: "77", Revision: "B"}, Console: harness.Part{Model: "8-bit \"one\"", Serial: "A1"},
		Latency: 41312500, LatencyHalf: 140 * time.Microsecond, AnswerFrames: 1,
		Rate: "30000/1001", RatePPM: -7.9, Fields: judge.BottomFirst,
		Active: image.Rect(32, 0, 608, 480), ActiveExact: [4]float64{32.5, -0.25, 576, 480},
		Noise: []float64{1.2, 0.7, 0.7}, Gain: &gain, Offset: &offset, Saturation: &saturation,
	}
}

const workbenchText = `# The bench in the cellar.
bench: workbench   # its name

console: {model: "8-bit \"one\"", serial: A1, revision: "3"}
feeder:
  port: /dev/ttyUSB0  # the left one
card:
  model: HDMI card
  serial: "77"
  latency_us: 1000
`

var _ = Describe("the calibration in a bench file", func() {
	var path string
	BeforeEach(func() {
		path = filepath.Join(GinkgoT().TempDir(), "bench.yaml")
	})
	write := func(text string) { Expect(os.WriteFile(path, []byte(text), 0o640)).To(Succeed()) }
	read := func() string {
		GinkgoHelper()
		b, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		return string(b)
	}
	parsed := func() harness.BenchFile {
		GinkgoHelper()
		f, err := harness.ParseBench(path, []byte(read()))
		Expect(err).NotTo(HaveOccurred())
		return f
	}

	It("is written and read back, and nothing else changes", func() {
		write(workbenchText)
		Expect(harness.WriteCalibration(path, sample())).To(Succeed())
		Expect(read()).To(HavePrefix(workbenchText))
		Expect(parsed().Calibration).To(Equal(sample()))
		info, err := os.Stat(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(info.Mode().Perm()).To(Equal(os.FileMode(0o640)))
		left, err := filepath.Glob(filepath.Join(filepath.Dir(path), ".bench-*"))
		Expect(err).NotTo(HaveOccurred())
		Expect(left).To(BeEmpty())
	})

	It("takes the place of the one before, wherever it stands", func() {
		before, after := "bench: try # one\n\n", "\n# the trouble maker\nsimulated:\n  seed: 3   # three\n\n# end\n"
		write(before + "calibration: {made: \"2020-01-01\",\n  rate: 60/1}\n" + after)
		Expect(harness.WriteCalibration(path, sample())).To(Succeed())
		once := read()
		Expect(once).To(HavePrefix(before + "calibration:"))
		Expect(once).To(HaveSuffix(after))
		Expect(harness.WriteCalibration(path, sample())).To(Succeed())
		Expect(read()).To(Equal(once))
	})

	It("keeps the line endings, and ends a last line that has no end", func() {
		write("bench: try\r\nsimulated: {}")
		Expect(harness.WriteCalibration(path, sample())).To(Succeed())
		Expect(read()).To(HavePrefix("bench: try\r\nsimulated: {}\r\ncalibration:"))
		Expect(read()).NotTo(MatchRegexp(`[^\r]\n`))
		Expect(parsed().Calibration).To(Equal(sample()))
	})

	It("follows a symbolic link and leaves it one", func() {
		write(workbenchText)
		link := filepath.Join(filepath.Dir(path), "link.yaml")
		Expect(os.Symlink(path, link)).To(Succeed())
		Expect(harness.WriteCalibration(link, sample())).To(Succeed())
		Expect(parsed().Calibration).NotTo(BeNil())
		Expect(os.Readlink(link)).To(Equal(path))
	})

	It("leaves a file alone that is not sound, or stands between braces", func() {
		for _, text := range []string{"bench: x\nbenchh: y\n", "bench: [\n"} {
			write(text)
			Expect(harness.WriteCalibration(path, sample())).NotTo(Succeed())
			Expect(read()).To(Equal(text))
		}
		flow := "{bench: x, simulated: {}}\n"
		write(flow)
		Expect(harness.WriteCalibration(path, sample())).To(MatchError(harness.ErrBenchForm))
		Expect(read()).To(Equal(flow))
	})

	It("holds before what the card says", func() {
		write(workbenchText)
		Expect(harness.WriteCalibration(path, sample())).To(Succeed())
		f := parsed()
		Expect(f.Info.Latency).To(Equal(time.Millisecond))
		info, warnings := f.Calibrated(f.Info)
		Expect(warnings).To(BeEmpty())
		Expect(info.Latency).To(Equal(41312500 * time.Nanosecond))
		Expect(info.LatencyHalf).To(Equal(140 * time.Microsecond))
		Expect(info.CaptureRate).To(BeNumerically("~", 29.97002997, 1e-8)) // 30000/1001
		Expect(info.Active).To(Equal(image.Rect(32, 0, 608, 480)))
		Expect(info.Fields).To(Equal(judge.BottomFirst))
	})

	It("is left aside, with a warning, when the bench has another card or console", func() {
		write(workbenchText)
		Expect(harness.WriteCalibration(path, sample())).To(Succeed())
		f := parsed()
		for _, change := range []func(*harness.BenchInfo){
			func(i *harness.BenchInfo) { i.Card.Serial = "78" },
			func(i *harness.BenchInfo) { i.Card.Revision = "C" },
			func(i *harness.BenchInfo) { i.Console.Model = "another" },
		} {
			info := f.Info
			change(&info)
			got, warnings := f.Calibrated(info)
			Expect(got).To(Equal(info))
			Expect(warnings).To(ConsistOf(ContainSubstring("bench check --write")))
		}
	})

	It("is the same in JSON", func() {
		b, err := json.Marshal(sample())
		Expect(err).NotTo(HaveOccurred())
		Expect(b).To(MatchJSON(`{"made": "2026-11-25", "card": {"model": "HDMI card", "serial": "77", "revision": "B"},
			"console": {"model": "8-bit \"one\"", "serial": "A1"}, "latency_us": 41312.5, "latency_half_us": 140, "answer_frames": 1,
			"rate": "30000/1001", "rate_ppm": -7.9, "fields": "bottom", "active": [32, 0, 576, 480], "active_exact": [32.5, -0.25, 576, 480],
			"noise": [1.2, 0.7, 0.7], "gain": 1.02, "offset": -3.5, "saturation": 0.98}`))
	})

	It("tells every problem with its place", func() {
		_, err := harness.ParseBench("b.yaml", []byte("bench: x\nsimulated: {}\ncalibration:\n  made: yesterday\n  fields: odd\n  rat: 3\n"))
		Expect(err).To(MatchError(And(ContainSubstring("b.yaml:4:9: "), ContainSubstring("b.yaml:5:11: "), ContainSubstring("b.yaml:6:3: "))))
	})
})

func FuzzWriteCalibration(f *testing.F) {
	f.Add([]byte(workbenchText))
	f.Add([]byte("bench: try\ncalibration: {made: \"2020-01-01\"}\nsimulated: {}\n"))
	f.Add([]byte("---\r\nbench: a\r\nsimulated:\r\n  seed: 3\r\n...\r\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		before, err := harness.ParseBench("b.yaml", src)
		if err != nil {
			t.Skip()
		}
		path := filepath.Join(t.TempDir(), "b.yaml")
		if err := os.WriteFile(path, src, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := harness.WriteCalibration(path, sample()); err != nil {
			now, _ := os.ReadFile(path)
			if string(now) != string(src) {
				t.Fatalf("%v, and the file is changed", err)
			}
			return
		}
		now, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		after, err := harness.ParseBench("b.yaml", now)
		if err != nil {
			t.Fatal(err)
		}
		if after.Info != before.Info || after.Port != before.Port || (after.Simulated == nil) != (before.Simulated == nil) {
			t.Fatalf("%q became %q", src, now)
		}
		if after.Calibration == nil || after.Calibration.Latency != sample().Latency {
			t.Fatalf("no calibration in %q", now)
		}
	})
}
