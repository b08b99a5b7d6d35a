package harness

import (
	"encoding/json"
	"fmt"
	"image"
	"math/big"
	"regexp"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"latchproof/harness/judge"
	"latchproof/specs"
)

// Calibration is what `latchproof bench check` found out about a bench and keeps
// in the bench file, below the key `calibration`:
//
//	calibration:
//	  made: "2026-11-25"
//	  card: {model: HDMI card, serial: "77", revision: B}   # whose it is
//	  console: {model: 8-bit console, serial: A1}
//	  latency_us: 41312.5      # as the card's own latency_us
//	  latency_half_us: 140
//	  answer_frames: 1         # the game's own delay that was taken for granted
//	  rate: 60000/1001         # nominal rate of the pictures in the file, hertz
//	  rate_ppm: -7.9           # what the card's is off that, parts per million
//	  fields: none             # none, top or bottom
//	  active: [32, 0, 576, 480]
//	  active_exact: [32.5, 0, 576, 480]  # before rounding to whole pixels
//	  noise: [1.2, 0.7, 0.7]   # of Y, Cb and Cr on the raster, levels RMS
//	  gain: 1.02               # of luma against the reference, levels per level
//	  offset: -3.5             # levels
//	  saturation: 0.98
//
// What it says of latency, rate, fields and active picture holds before what
// `card` (or a simulated bench) says. It holds for the card and the console that
// it names only: when the bench has others it is left aside, with a warning.
type Calibration struct {
	Made          string // date, year-month-day
	Card, Console Part
	// Latency and LatencyHalf are as in BenchInfo; both zero: not found.
	Latency, LatencyHalf time.Duration
	AnswerFrames         int
	Rate                 string // a fraction; empty: not found
	RatePPM              float64
	Fields               judge.Fields    // empty: not found
	Active               image.Rectangle // empty: not found
	ActiveExact          [4]float64      // x, y, width, height
	Noise                []float64       // Y, Cb, Cr; nil: not found
	Gain, Offset         *float64        // nil: not found
	Saturation           *float64
}

// hz is the nominal rate, hertz; 0 when there is none.
func (c *Calibration) hz() float64 {
	if r, ok := new(big.Rat).SetString(c.Rate); ok {
		f, _ := r.Float64()
		return f
	}
	return 0
}

var (
	fieldsText = specs.Text{Min: 3, Max: 6, Pattern: regexp.MustCompile(`^(none|top|bottom)$`), Says: "none, top or bottom"}
	dateText   = specs.Text{Min: 10, Max: 10, Pattern: regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`), Says: "a date such as 2026-11-25"}
	fourWhole  = specs.List[int64]{Of: specs.Int{Min: 0, Max: 1 << 16}, Min: 4, Max: 4, Says: "four numbers, [x, y, width, height]"}
	fourParts  = specs.List[float64]{Of: specs.Number{Min: -1024, Max: 1 << 16}, Min: 4, Max: 4, Says: "four numbers, [x, y, width, height]"}
	threeParts = specs.List[float64]{Of: specs.Number{Min: 0, Max: 255}, Min: 3, Max: 3, Says: "three numbers, for Y, Cb and Cr"}
)

func rectOf(x []int64) image.Rectangle {
	return image.Rect(int(x[0]), int(x[1]), int(x[0]+x[2]), int(x[1]+x[3]))
}

var calibrationShape = specs.Mapping[Calibration]{Fields: []specs.Field[Calibration]{
	specs.Key("made", dateText, "When it was made.", func(c *Calibration, x string, _ specs.Pos) { c.Made = x }).Need(),
	specs.Key("card", specs.Mapping[Part]{Fields: partFields()}, "The card that it is of.", func(c *Calibration, x Part, _ specs.Pos) { c.Card = x }),
	specs.Key("console", specs.Mapping[Part]{Fields: partFields()}, "The console that it is of.", func(c *Calibration, x Part, _ specs.Pos) { c.Console = x }),
	specs.Key("latency_us", specs.Number{Min: 0, Max: 1e6}, "Latency, microseconds.", func(c *Calibration, x float64, _ specs.Pos) { c.Latency = time.Duration(x * 1e3) }),
	specs.Key("latency_half_us", specs.Number{Min: 0, Max: 1e5}, "Half width of its uncertainty, microseconds.", func(c *Calibration, x float64, _ specs.Pos) { c.LatencyHalf = time.Duration(x * 1e3) }),
	specs.Key("answer_frames", specs.Int{Min: 1, Max: 60}, "The game's own delay that was assumed, frames; 1: the answer is in the picture of the read's own frame.", func(c *Calibration, x int64, _ specs.Pos) { c.AnswerFrames = int(x) }),
	specs.Key("rate", rateText, "Nominal rate of the pictures in the file, hertz.", func(c *Calibration, x string, _ specs.Pos) { c.Rate = x }),
	specs.Key("rate_ppm", specs.Number{Min: -1e5, Max: 1e5}, "What the card's rate is off that, parts per million.", func(c *Calibration, x float64, _ specs.Pos) { c.RatePPM = x }),
	specs.Key("fields", fieldsText, "Which field of a woven picture is the first in time.", func(c *Calibration, x string, _ specs.Pos) { c.Fields = judge.Fields(x) }),
	specs.Key("active", fourWhole, "Where the raster lies in the captured picture, pixels.", func(c *Calibration, x []int64, _ specs.Pos) { c.Active = rectOf(x) }),
	specs.Key("active_exact", fourParts, "The same before rounding.", func(c *Calibration, x []float64, _ specs.Pos) { copy(c.ActiveExact[:], x) }),
	specs.Key("noise", threeParts, "Noise of Y, Cb and Cr on the raster, levels RMS.", func(c *Calibration, x []float64, _ specs.Pos) { c.Noise = x }),
	specs.Key("gain", specs.Number{Min: 0, Max: 10}, "Gain of luma against the reference.", func(c *Calibration, x float64, _ specs.Pos) { c.Gain = &x }),
	specs.Key("offset", specs.Number{Min: -255, Max: 255}, "Offset of luma against the reference, levels.", func(c *Calibration, x float64, _ specs.Pos) { c.Offset = &x }),
	specs.Key("saturation", specs.Number{Min: 0, Max: 10}, "Gain of colour difference against that of luma.", func(c *Calibration, x float64, _ specs.Pos) { c.Saturation = &x }),
}}

// yaml is the calibration as the lines of a bench file.
func (c *Calibration) yaml() string {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, "  "+format+"\n", a...) }
	number := func(x float64) string { return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.4f", x), "0"), ".") }
	list := func(x []float64) string {
		var s []string
		for _, v := range x {
			s = append(s, number(v))
		}
		return "[" + strings.Join(s, ", ") + "]"
	}
	part := func(key string, p Part) {
		var s []string
		for _, kv := range [][2]string{{"model", p.Model}, {"serial", p.Serial}, {"revision", p.Revision}} {
			if kv[1] != "" {
				s = append(s, fmt.Sprintf("%s: %q", kv[0], kv[1]))
			}
		}
		if len(s) > 0 {
			line("%s: {%s}", key, strings.Join(s, ", "))
		}
	}
	b.WriteString("calibration:  # by latchproof bench check\n")
	line("made: %q", c.Made)
	part("card", c.Card)
	part("console", c.Console)
	if c.LatencyHalf > 0 {
		line("latency_us: %s", number(float64(c.Latency)/1e3))
		line("latency_half_us: %s", number(float64(c.LatencyHalf)/1e3))
		line("answer_frames: %d", c.AnswerFrames)
	}
	if c.Rate != "" {
		line("rate: %s", c.Rate)
		line("rate_ppm: %s", number(c.RatePPM))
	}
	if c.Fields != "" {
		line("fields: %s", c.Fields)
	}
	if a := c.Active; !a.Empty() {
		line("active: [%d, %d, %d, %d]", a.Min.X, a.Min.Y, a.Dx(), a.Dy())
		line("active_exact: %s", list(c.ActiveExact[:]))
	}
	if c.Noise != nil {
		line("noise: %s", list(c.Noise))
	}
	for _, v := range []struct {
		key string
		x   *float64
	}{{"gain", c.Gain}, {"offset", c.Offset}, {"saturation", c.Saturation}} {
		if v.x != nil {
			line("%s: %s", v.key, number(*v.x))
		}
	}
	return b.String()
}

// MarshalJSON gives the keys and values of the bench file.
func (c *Calibration) MarshalJSON() ([]byte, error) {
	var x struct {
		Calibration map[string]any `yaml:"calibration"`
	}
	if err := yaml.Unmarshal([]byte(c.yaml()), &x); err != nil {
		return nil, err
	}
	return json.Marshal(x.Calibration)
}

// Calibrated gives what is known of the bench when the calibration of its file
// is taken into account, and warnings. Without a calibration, or with that of
// another card or console, it is info itself.
func (f BenchFile) Calibrated(info BenchInfo) (BenchInfo, []string) {
	c := f.Calibration
	if c == nil {
		return info, nil
	}
	if other := firstOf(differs("card", c.Card, info.Card), differs("console", c.Console, info.Console)); other != "" {
		return info, []string{fmt.Sprintf("the calibration in the bench file (%s) is not used: it is of %s; run `latchproof bench check --write` again", c.Made, other)}
	}
	if c.LatencyHalf > 0 {
		info.Latency, info.LatencyHalf = c.Latency, c.LatencyHalf
	}
	if hz := c.hz(); hz > 0 {
		info.CaptureRate = hz
	}
	if c.Fields != "" {
		info.Fields = c.Fields
	}
	if !c.Active.Empty() {
		info.Active = c.Active
	}
	return info, nil
}

func firstOf(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// differs says what a calibration was made with and the bench now has; empty
// when they are the same. What either does not say is not compared.
func differs(what string, was, is Part) string {
	for _, v := range [][3]string{{"model", was.Model, is.Model}, {"serial number", was.Serial, is.Serial}, {"revision", was.Revision, is.Revision}} {
		if v[1] != "" && v[2] != "" && v[1] != v[2] {
			return fmt.Sprintf("a %s of %s %s, and the bench has %s", what, v[0], v[1], v[2])
		}
	}
	return ""
}
