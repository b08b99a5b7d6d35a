package index

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/reports"
)

var today = time.Date(2026, 5, 20, 12, 0, 0, 0, time.UTC)

// One spec of a made-up session: what it found.
type outcome struct {
	spec, verdict string
	in, of        int
}

// session is a made-up session, day days before today.
func session(day int, firmware string, found ...outcome) reports.Session {
	s := reports.Session{
		Title: "a session", Made: today.AddDate(0, 0, -day), Version: "0",
		Bench: reports.Bench{Name: "workbench", Feeder: "board", FeederRevision: "C", FeederFirmware: firmware, FeederSerial: "F7", ConsoleSerial: "N9"},
	}
	for _, f := range found {
		sp := reports.Spec{Name: f.spec, Verdict: f.verdict, ProgramHash: "abc", Lockstep: reports.Lockstep{InStep: f.in, Repeats: f.of, Low: 0.1, High: 1}}
		sp.Lockstep.Low = min(0.1, float64(f.in-1)/float64(max(f.of-1, 1)))
		for i := range 3 {
			sp.ReadTiming = append(sp.ReadTiming, reports.ReadTiming{
				Repeat: fmt.Sprint(i), JitterUS: float64(i + 2), PPM: -10 * float64(i), ServiceMedianUS: 1.5, ServiceWorstUS: 2 + float64(i),
			})
		}
		if f.in < f.of {
			sp.Divergences = []reports.Divergence{{Frame: 900, Kind: "picture", Part: "console"}, {Frame: 512, Kind: "input", Part: "board"}}
		}
		s.Specs = append(s.Specs, sp)
	}
	return s
}

// put writes a session into a folder, with its page.
func put(dir, name string, s reports.Session) {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(reports.WriteJSON(&b, s)).To(Succeed())
	putText(dir, name, b.String())
	Expect(os.WriteFile(filepath.Join(dir, name, pageFile), []byte("page"), 0o666)).To(Succeed())
}

func putText(dir, name, text string) {
	GinkgoHelper()
	Expect(os.MkdirAll(filepath.Join(dir, name), 0o777)).To(Succeed())
	Expect(os.WriteFile(filepath.Join(dir, name, dataFile), []byte(text), 0o666)).To(Succeed())
}

func read(dir string) Index {
	GinkgoHelper()
	x, err := Read(context.Background(), dir, today, "0")
	Expect(err).NotTo(HaveOccurred())
	return x
}

func render(x Index) string {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(WriteHTML(&b, x, ".")).To(Succeed())
	return b.String()
}
