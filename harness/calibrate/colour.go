package calibrate

import (
	"math"

	"latchproof/harness/lockstep"
	"latchproof/vision/screen"
)

// tone is how the picture of the console comes out: captured = gain times
// reference plus offset, in levels of luma.
type tone struct {
	gain, offset, saturation float64
	detail                   float64 // RMS of what is left of luma, levels
	alike                    float64 // correlation with the reference, -1 to 1
	white, black             float64 // share of pixels cut off
}

// toneOf fits a captured picture to its reference by least squares over the means
// of 4x4 pixels of luma, so that half a pixel's offset does no harm; twice: what
// is off by more than three times the rest the first time (things that move) does
// not count the second time. noise is that of a pixel of luma, which is taken off
// the detail.
func toneOf(ref, got *screen.Screen, noise float64) (t tone) {
	a, b := lockstep.Extract(ref, nil), lockstep.Extract(got, nil)
	t.gain = 1
	limit := math.Inf(1)
	for range 2 {
		var n, x, y, xx, xy, yy float64
		for i := range a {
			if i%6 > 3 {
				continue
			}
			u, v := float64(a[i])*lockstep.Unit, float64(b[i])*lockstep.Unit
			if math.Abs(v-t.gain*u-t.offset) > limit {
				continue
			}
			n, x, y, xx, xy, yy = n+1, x+u, y+v, xx+u*u, xy+u*v, yy+v*v
		}
		vx, vy, c := xx-x*x/n, yy-y*y/n, xy-x*y/n
		if n == 0 || vx <= 0 || vy <= 0 {
			return tone{}
		}
		t.gain = c / vx
		t.offset = (y - t.gain*x) / n
		t.alike = c / math.Sqrt(vx*vy)
		limit = 3*math.Sqrt(max(0, vy-c*c/vx)/n) + 1
	}
	var rr, cc float64
	for i := range a {
		if i%6 > 3 {
			u, v := float64(a[i])*lockstep.Unit-128, float64(b[i])*lockstep.Unit-128
			rr, cc = rr+u*u, cc+u*v
		}
	}
	if rr > 0 && t.gain > 0 {
		t.saturation = cc / rr / t.gain
	}
	var left []float64
	for i, v := range ref.Y {
		g := got.Y[i]
		if g >= 254 && v < 250 {
			t.white++
		}
		if g <= 1 && v > 12 {
			t.black++
		}
		d := float64(g) - t.gain*float64(v) - t.offset
		left = append(left, d*d)
	}
	// What moves is at most a fiftieth of the picture.
	top, sum := quantile(left, 0.98), 0.0
	for _, d := range left {
		sum += min(d, top)
	}
	t.detail = math.Sqrt(max(0, sum/float64(len(left))-noise*noise))
	t.black, t.white = t.black/float64(len(left)), t.white/float64(len(left))
	return t
}

// The mistakes of range: code values 16 to 235 of limited range (Recommendation
// ITU-R BT.601: black 16, white 235) taken for 0 to 255, and the other way round.
const (
	narrowGain, narrowOffset = 219.0 / 255, 16
	wideGain, wideOffset     = 255.0 / 219, -16 * 255.0 / 219
)

// rangeMistake says which of the two mistakes gain and offset look like.
func rangeMistake(gain, offset float64) string {
	near := func(g, o float64) bool { return math.Abs(gain-g) < 0.04 && math.Abs(offset-o) < 5 }
	switch {
	case near(narrowGain, narrowOffset):
		return "limited range taken for full range (black at 16, white at 235)"
	case near(wideGain, wideOffset):
		return "full range taken for limited range (blacks and whites are cut off)"
	}
	return ""
}

// tellColour adds the findings about levels and colour.
func (c *check) tellColour(tones []tone) {
	if len(tones) == 0 {
		c.report.add("colour.levels", Untold, "", "%s", c.untoned)
		return
	}
	pick := func(f func(tone) float64) float64 {
		var v []float64
		for _, t := range tones {
			v = append(v, f(t))
		}
		return quantile(v, 0.5)
	}
	gain, offset := pick(func(t tone) float64 { return t.gain }), pick(func(t tone) float64 { return t.offset })
	saturation := pick(func(t tone) float64 { return t.saturation })
	white, black := pick(func(t tone) float64 { return t.white }), pick(func(t tone) float64 { return t.black })
	c.tone = &tone{gain: gain, offset: offset, saturation: saturation}
	if mistake := rangeMistake(gain, offset); mistake != "" {
		c.report.add("colour.range", Look, "set the card's or the capture program's range (full or limited, \"PC\" or \"TV\") so that both agree",
			"gain %.3f, offset %+.1f levels: %s", gain, offset, mistake)
	} else {
		c.report.add("colour.levels", lookIf(math.Abs(gain-1) > 0.05 || math.Abs(offset) > 4),
			"set the card's contrast and brightness to neutral; specs judge by patterns, which bear this, but dark and bright detail may be lost",
			"gain %.3f, offset %+.1f levels", gain, offset)
	}
	c.report.add("colour.clipping", lookIf(white > 0.01 || black > 0.01),
		"lower the card's contrast or set its range: what is cut off is lost",
		"%.1f %% of the pixels cut off at white, %.1f %% at black", 100*white, 100*black)
	c.report.add("colour.saturation", lookIf(math.Abs(saturation-1) > 0.15),
		"set the card's saturation to neutral; check the colour system and the cable", "%.2f times that of the reference", saturation)
	detail := pick(func(t tone) float64 { return t.detail })
	c.report.add("picture.detail", lookIf(detail > detailLimit),
		"the picture is not sharp or strongly compressed: raise the card's quality or bit rate, choose its own resolution rather than a scaled one, and use a better cable",
		"%.1f levels RMS of luma are off the reference", detail)
}

// detailLimit is from practice with the simulated bench (no source): its usual
// card is off by 2 to 5 levels, one that compresses badly by more than 7.
const detailLimit = 5
