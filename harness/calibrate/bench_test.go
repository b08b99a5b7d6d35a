package calibrate_test

import (
	"context"
	"fmt"
	"image"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/lamplighter"
	"latchproof/fixtures/sim"
	"latchproof/harness/calibrate"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// ntsc is the console of all tests.
var ntsc, _ = console.Builtin("ntsc-8bit")

// checkProgram answers so many presses at the gate, 23 reads apart, and then
// walks for so many reads, for fields.
func checkProgram(answers, walk int) string {
	var b strings.Builder
	b.WriteString("program 1\nrest 8\ntap start\nrest 20\nmark colours\nrest 8\n")
	for i := range answers {
		fmt.Fprintf(&b, "mark answer-%c\ntap up\nrest 22\n", 'a'+i)
	}
	if walk > 0 {
		fmt.Fprintf(&b, "hold right for %d\n", walk)
	}
	b.WriteString("rest 6\n")
	return b.String()
}

func specOf(text, start string) *specs.Spec {
	p, err := program.Parse("check.prog", []byte(text), ntsc, program.DefaultLimits)
	Expect(err).NotTo(HaveOccurred())
	return &specs.Spec{Name: "check", Program: p, Console: ntsc, Start: start, Tail: 6}
}

// gate is what the game shows when it stands at the gate.
func gate() *screen.Screen {
	pix := make([]byte, lamplighter.Width*lamplighter.Height)
	g := lamplighter.NewAt(lamplighter.StartStreet, 0)
	g.Step(program.State{})
	g.Draw(pix)
	img := image.NewRGBA(image.Rect(0, 0, lamplighter.Width, lamplighter.Height))
	for i, v := range pix {
		img.SetRGBA(i%lamplighter.Width, i/lamplighter.Width, lamplighter.Palette[v])
	}
	return screen.FromImage(img)
}

// calm is a bench without troubles, with small pictures.
func calm() sim.Config {
	c := sim.Default()
	c.Card.Width, c.Card.Height, c.Card.Active = 288, 256, image.Rect(16, 8, 272, 248)
	return c
}

// tried is a check and the bench that was tried.
type tried struct {
	*calibrate.Report
	bench *sim.Bench
}

func try(cfg sim.Config, o calibrate.Options) tried {
	GinkgoHelper()
	b, err := sim.New(cfg, sim.Options{Pipe: true})
	Expect(err).NotTo(HaveOccurred())
	o.Bench, o.Dir = b, GinkgoT().TempDir()
	if o.Spec == nil {
		o.Spec = specOf(checkProgram(4, 80), specs.StartReset)
	}
	if o.Repeats == 0 {
		o.Repeats = 2
	}
	r, err := calibrate.Check(context.Background(), o)
	Expect(err).NotTo(HaveOccurred())
	for _, f := range r.Findings {
		AddReportEntry(f.ID, fmt.Sprintf("%s: %s", f.Verdict, f.Measured), ReportEntryVisibilityFailureOrVerbose)
	}
	return tried{r, b}
}
