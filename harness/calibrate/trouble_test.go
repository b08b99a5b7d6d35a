package calibrate_test

import (
	"slices"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/lamplighter"
	"latchproof/fixtures/sim"
	"latchproof/harness/calibrate"
	"latchproof/specs"
)

// raised are the findings that are not ok.
func raised(r *calibrate.Report) (ids []string) {
	for _, f := range r.Findings {
		if f.Verdict == calibrate.Look || f.Verdict == calibrate.Cannot {
			ids = append(ids, f.ID)
		}
	}
	return ids
}

// usual is the check of the tables: two answers and a walk, three repeats.
func usual() calibrate.Options {
	return calibrate.Options{Reference: gate(), Repeats: 3, Spec: specOf(checkProgram(2, 60), specs.StartReset)}
}

// short is the same without the walk, which only fields need.
func short() calibrate.Options {
	o := usual()
	o.Spec = specOf(checkProgram(2, 0), specs.StartReset)
	return o
}

// notUnderRace skips what is one goroutine's arithmetic on thousands of pictures.
func notUnderRace() {
	BeforeEach(func() {
		if testing.Short() {
			Skip("pictures take ten times as long under the race detector")
		}
	})
}

// troubleCase is a bench with one trouble or several that do not disturb one
// another, and what must be raised: these findings and no others, but for those
// that may be.
type troubleCase struct {
	troubles []sim.Trouble
	must     []string
	may      []string
}

// pairwise are the findings that need several other runs to hold a picture against.
var pairwise = map[string]bool{
	"card.repeats": true, "card.signal": true, "card.torn": true, "card.damaged": true, "reset.same": true, "latency.changed": true,
}

var covered = map[string]bool{}

var _ = Describe("troubles of the simulated bench", func() {
	notUnderRace()

	at := func(name string, at int64, repeats ...int) sim.Trouble {
		return sim.Trouble{Name: name, At: []int64{at}, Repeats: repeats}
	}
	rate := func(name string, rate float64) sim.Trouble { return sim.Trouble{Name: name, Rate: rate} }
	always := func(name string) sim.Trouble { return sim.Trouble{Name: name} }

	// Several troubles share a bench where they do not touch the same finding.
	table := map[string]troubleCase{
		"none": {},

		"a pulled cable": {[]sim.Trouble{at("unplug", 60)}, []string{"link"}, nil},
		"a silent board": {[]sim.Trouble{at("silent", 60)}, []string{"link"}, nil},
		"other protocol": {[]sim.Trouble{always("wrong-protocol")}, []string{"link"}, nil},
		"a damaged log":  {[]sim.Trouble{at("corrupt-serial", 60)}, []string{"link"}, nil},
		"a lost log":     {[]sim.Trouble{at("lost-log", 60)}, []string{"link"}, nil},

		"clocks far off, double reads, drops, clock edges, gain": {
			[]sim.Trouble{always("board-drift"), always("crystal"), rate("double-reads", 0.02), rate("drops", 0.01), at("extra-clock", 60, 3), always("gain")},
			[]string{"board.clock", "reads.rate", "reads.double", "card.drops", "reads.clocks", "colour.levels"}, nil},
		"a wandering console, brightness, repeats": {
			[]sim.Trouble{always("wander"), always("brightness"), rate("repeats", 0.02)},
			[]string{"reads.steady", "colour.levels", "colour.black", "card.repeats"}, nil},
		"a wandering board, bad quality": {
			[]sim.Trouble{always("board-wander"), always("quality")},
			[]string{"reads.steady", "picture.detail"}, []string{"board.steady"}},
		"noise, another latency, a missed read": {
			[]sim.Trouble{always("noise"), always("latency"), at("missed-read", 60, 3)},
			[]string{"picture.noise", "latency.changed", "reads.missing", "reset.same"}, []string{"picture.detail"}},
		"an offset, a freeze": {
			[]sim.Trouble{always("offset"), at("freeze", 50, 3)}, []string{"picture.active", "picture.detail", "card.repeats"}, nil},
		"crosstalk, no signal": {
			[]sim.Trouble{always("crosstalk"), at("disconnect", 40, 1, 2)}, []string{"picture.crosstalk", "card.signal"}, nil},
		"a slow board": {[]sim.Trouble{at("slow-service", 60, 3)}, []string{"link.service"}, []string{"reset.same"}},
		"a drifting gain, an underrun": {
			[]sim.Trouble{always("gain-drift"), at("underrun", 60, 3)},
			[]string{"colour.drift", "link.underrun"}, []string{"colour.levels", "reset.same"}},
		"a drifting brightness, late stamps": {
			[]sim.Trouble{always("brightness-drift"), always("jitter")},
			[]string{"colour.drift", "card.jitter"}, []string{"colour.levels", "colour.black"}},
		"a damaged stream, an extra read": {
			[]sim.Trouble{rate("corrupt-stream", 0.02), at("extra-read", 60, 3)},
			[]string{"card.damaged", "reads.extra"}, []string{"reads.steady", "reset.same"}},
		"torn pictures, a flipped bit": {
			[]sim.Trouble{rate("torn", 0.02), at("flip", 50, 3)}, []string{"card.torn", "reset.same"}, nil},
		"damaged blocks": {[]sim.Trouble{rate("damage", 0.02)}, []string{"card.damaged"}, nil},
		// A glitch that falls on a flame may look like the flame of another frame.
		"glitches": {[]sim.Trouble{rate("glitch", 0.02)}, []string{"card.damaged"}, []string{"card.torn"}},
		"a strobe": {[]sim.Trouble{at("strobe", 70, 1, 2, 3, 4)}, nil, []string{}},
		"lag":      {[]sim.Trouble{at("lag", 50, 1, 2, 3, 4)}, []string{"reads.missing", "reset.same"}, nil},
	}
	names := make([]string, 0, len(table))
	for name, c := range table {
		names = append(names, name)
		for _, t := range c.troubles {
			covered[t.Name] = true
		}
	}
	slices.Sort(names)
	for _, name := range names {
		It("names "+name, func() {
			c := table[name]
			cfg := calm()
			cfg.Troubles = c.troubles
			o := short()
			switch {
			case len(c.troubles) == 0 || slices.Contains(c.must, "reads.steady"):
				o = usual() // a rate is told better by longer runs
			case !slices.ContainsFunc(c.must, func(id string) bool { return pairwise[id] }):
				o.Repeats = 2
			}
			r := try(cfg, o)
			got := raised(r.Report)
			for _, id := range c.must {
				Expect(got).To(ContainElement(id))
				f, _ := r.Find(id)
				Expect(f.Advice).NotTo(BeEmpty())
			}
			for _, id := range got {
				Expect(append(c.must, c.may...)).To(ContainElement(id), "raised without a cause")
			}
			switch {
			case slices.Equal(c.must, []string{"link"}):
				Expect(r.Code()).To(Equal(3))
			case len(c.must) > 0:
				Expect(r.Code()).To(Equal(1))
			default:
				Expect(r.Code()).To(Equal(0))
				Expect(r.Findings).To(HaveLen(35), "all are measured")
				Expect((r.Calibration.Latency - r.bench.Truth(1).Latency).Abs()).To(BeNumerically("<=", r.Calibration.LatencyHalf))
				Expect(r.Calibration.LatencyHalf).To(BeNumerically("<", 300*time.Microsecond))
			}
		})
	}

	It("names memory that is another at every power-on", func() {
		cfg := calm()
		cfg.Console.Scene = lamplighter.StartLinden
		o := usual()
		o.Reference = nil
		text := "program 1\nrest 8\nmark answer\ntap up\nrest 22\nhold right for 90\nrest 6\n"
		o.Spec = specOf(text, specs.StartPower)
		Expect(raised(try(cfg, o).Report)).To(BeEmpty())
		cfg.Troubles = []sim.Trouble{always("power-on")}
		Expect(raised(try(cfg, o).Report)).To(ContainElement("reset.same"))
		covered["power-on"] = true
	})

	It("tries every trouble that there is", func() {
		for _, k := range sim.Kinds {
			if k.Name != "power-on" { // above
				Expect(covered).To(HaveKey(k.Name))
			}
		}
	})
})
