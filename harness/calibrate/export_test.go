package calibrate

import (
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// Without is the program without its marked presses.
func Without(p *program.Program, mark string) ([]program.Run, error) {
	return without(p, pressed(p, mark))
}

// NearestRate names the nearest rate, with its distance in parts per million.
func NearestRate(hz float64, p console.Profile) (console.Rate, float64) {
	r, ppm := nearestRate(hz, p)
	return r.rate, ppm
}

// Tone fits a picture to a reference: gain, offset, saturation, detail, correlation.
func Tone(ref, got *screen.Screen) (gain, offset, saturation, detail, alike float64) {
	t := toneOf(ref, got, 0)
	return t.gain, t.offset, t.saturation, t.detail, t.alike
}

// RangeMistake names a confusion of ranges.
func RangeMistake(gain, offset float64) string { return rangeMistake(gain, offset) }

// Settle settles bounds: those that say at most, and those that say more than.
func Settle(most, more []float64) (lo, hi float64, wrong int) {
	var b []bound
	for _, x := range most {
		b = append(b, bound{x, true})
	}
	for _, x := range more {
		b = append(b, bound{x, false})
	}
	return settle(b)
}

// Measure is the noise between two pictures.
func Measure(a, b *screen.Screen) [3]float64 { return measure(a, b) }

// EdgeOf is where a profile rises.
func EdgeOf(v []float64) (float64, bool) { return edgeOf(v) }
