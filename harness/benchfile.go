package harness

import (
	"image"
	"math/big"
	"regexp"
	"time"

	"go.yaml.in/yaml/v3"

	"latchproof/harness/judge"
	"latchproof/specs"
)

// BenchFile is a bench file (YAML). Either the bench is simulated:
//
//	bench: try-out
//	simulated: {...}         # the keys are documented in package fixtures/sim
//
// or it is real:
//
//	bench: workbench
//	console: {model: 8-bit console, serial: A1, revision: "3"}
//	feeder: {port: /dev/ttyUSB0}
//	card: {model: HDMI card, serial: "77", latency_us: 41300,
//	       latency_half_us: 150, rate: 30000/1001, active: [32, 0, 576, 480],
//	       fields: bottom}
//
// latency_us is the time from the console's read to the stamp of a picture
// taken at the very start of that frame's showing, latency_half_us the half
// width of its uncertainty; rate is that of whole pictures; fields says whether
// two fields are woven into a picture and which is the first in time (none, top
// or bottom); active is where the raster lies in the captured
// picture (x, y, width, height).
//
// Either may have a `calibration`, which `latchproof bench check --write` puts
// there (see Calibration). It holds before what `card` or `simulated` says.
//
// A real card is captured live when it has a `device` or a `stream` (see
// LiveCard). Without one `play` records the read log alone and says that nothing
// was seen; record the video with any program then, and bring both together with
// `latchproof import VIDEO --reads reads.csv`.
type BenchFile struct {
	Info      BenchInfo
	Port      string     // serial port of the feeder; empty for a simulated bench
	Card      LiveCard   // how a real card is captured
	Simulated *yaml.Node // nil for a real bench
	// Calibration is what `bench check` wrote; nil: nothing. See Calibrated.
	Calibration *Calibration
}

var (
	nameText = specs.Text{Min: 1, Max: 80, Says: "a text"}
	rateText = specs.Text{Min: 1, Max: 40, Pattern: regexp.MustCompile(`^[0-9]{1,9}(/[0-9]{1,9})?$`), Says: "a rate such as 60000/1001 or 60"}
)

func partFields() []specs.Field[Part] {
	return []specs.Field[Part]{
		specs.Key("model", nameText, "What it is.", func(p *Part, x string, _ specs.Pos) { p.Model = x }),
		specs.Key("serial", nameText, "Serial number.", func(p *Part, x string, _ specs.Pos) { p.Serial = x }),
		specs.Key("revision", nameText, "Board revision.", func(p *Part, x string, _ specs.Pos) { p.Revision = x }),
	}
}

type card struct {
	live          LiveCard
	part          Part
	latency, half float64
	rate          float64
	active        image.Rectangle
	fields        judge.Fields
}

var cardShape = specs.Mapping[card]{Finish: finishCard, Fields: append(liveCardFields(), []specs.Field[card]{
	specs.Key("model", nameText, "What it is.", func(c *card, x string, _ specs.Pos) { c.part.Model = x }),
	specs.Key("serial", nameText, "Serial number.", func(c *card, x string, _ specs.Pos) { c.part.Serial = x }),
	specs.Key("revision", nameText, "Board revision.", func(c *card, x string, _ specs.Pos) { c.part.Revision = x }),
	specs.Key("latency_us", specs.Number{Min: 0, Max: 1e6}, "Calibrated latency, microseconds.", func(c *card, x float64, _ specs.Pos) { c.latency = x }),
	specs.Key("latency_half_us", specs.Number{Min: 0, Max: 1e5}, "Half width of its uncertainty, microseconds.", func(c *card, x float64, _ specs.Pos) { c.half = x }),
	specs.Key("rate", rateText, "Nominal picture rate, hertz.", func(c *card, x string, _ specs.Pos) {
		if r, ok := new(big.Rat).SetString(x); ok {
			c.rate, _ = r.Float64()
		}
	}),
	specs.Key("fields", fieldsText, "Which field of a woven picture is the first in time.", func(c *card, x string, _ specs.Pos) { c.fields = judge.Fields(x) }),
	specs.Key("active", fourWhole, "Where the raster lies in the captured picture, pixels.", func(c *card, x []int64, _ specs.Pos) { c.active = rectOf(x) }),
}...)}

type benchFields struct {
	BenchFile
	haveReal bool
}

var benchShape = specs.Mapping[benchFields]{
	Fields: []specs.Field[benchFields]{
		specs.Key("bench", nameText, "Name of the bench.", func(b *benchFields, x string, _ specs.Pos) { b.Info.Name = x }).Need(),
		specs.Key("simulated", specs.Raw{}, "A simulated bench.", func(b *benchFields, x *yaml.Node, _ specs.Pos) { b.Simulated = x }),
		specs.Key("calibration", calibrationShape, "What `bench check` found.", func(b *benchFields, x Calibration, _ specs.Pos) { b.Calibration = &x }),
		specs.Key("console", specs.Mapping[Part]{Fields: partFields()}, "The console.", func(b *benchFields, x Part, _ specs.Pos) { b.Info.Console, b.haveReal = x, true }),
		specs.Key("feeder", specs.Mapping[string]{Fields: []specs.Field[string]{
			specs.Key("port", specs.Text{Min: 1, Max: 4096, Says: "the path of a serial port"}, "Serial port.", func(p *string, x string, _ specs.Pos) { *p = x }).Need(),
		}}, "The feeder board.", func(b *benchFields, x string, _ specs.Pos) { b.Port, b.haveReal = x, true }),
		specs.Key("card", cardShape, "The capture card.", func(b *benchFields, x card, _ specs.Pos) {
			b.Info.Card, b.Info.CaptureRate, b.Info.Active, b.Info.Fields, b.haveReal = x.part, x.rate, x.active, x.fields, true
			b.Card = x.live
			b.Info.Latency = time.Duration(x.latency * 1e3)
			b.Info.LatencyHalf = time.Duration(x.half * 1e3)
		}),
	},
	Finish: func(b *benchFields, v *specs.Value, _ func(string) (*specs.Value, bool)) {
		switch {
		case b.Simulated != nil && b.haveReal:
			v.Fail("a bench is either `simulated` or has `console`, `feeder` and `card`, not both")
		case b.Simulated == nil && b.Port == "":
			v.Fail("no bench: want `simulated`, or a `feeder` with its `port`")
		}
	},
}

// ParseBench reads a bench file. The error is a specs.ErrorList of all
// problems. The part `simulated` is not read here.
func ParseBench(file string, src []byte) (BenchFile, error) {
	b, err := specs.ReadDocument(file, src, benchShape)
	b.Info.Simulated = b.Simulated != nil
	return b.BenchFile, err
}
