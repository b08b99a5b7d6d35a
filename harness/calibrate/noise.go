package calibrate

import (
	"math"
	"math/cmplx"
	"slices"

	"latchproof/vision/screen"
)

// noisePair is what two following pictures tell of the noise: the standard
// deviation of a pixel of Y, Cb and Cr, levels.
type noisePair [3]float64

// measure takes the middle of the blocks of 8x8 pixels, so that what moves in
// less than half of the picture does not count. The sum of 64 squares of normal
// differences has its median at 63.3 variances (chi square, the approximation of
// Wilson and Hilferty: n(1-2/(9n))^3).
func measure(a, b *screen.Screen) (n noisePair) {
	for i, p := range [3][2][]byte{{a.Y, b.Y}, {a.Cb, b.Cb}, {a.Cr, b.Cr}} {
		var sums []float64
		for y := 0; y+8 <= a.H; y += 8 {
			for x := 0; x+8 <= a.W; x += 8 {
				sum := 0
				for dy := range 8 {
					at := (y+dy)*a.W + x
					for dx := range 8 {
						d := int(p[0][at+dx]) - int(p[1][at+dx])
						sum += d * d
					}
				}
				sums = append(sums, float64(sum))
			}
		}
		n[i] = math.Sqrt(quantile(sums, 0.5) / chiMedian / 2)
	}
	return n
}

var chiMedian = 64 * math.Pow(1-2/(9*64.0), 3)

// noiseOf is the noise of several pairs: that of the quietest quarter, in which
// the scene stands still.
func noiseOf(pairs []noisePair) (n noisePair, ok bool) {
	if len(pairs) == 0 {
		return n, false
	}
	for i := range n {
		var v []float64
		for _, p := range pairs {
			v = append(v, p[i])
		}
		n[i] = quantile(v, 0.25)
	}
	return n, true
}

// waves gathers the power of the difference of following pictures along the
// lines, at the frequency at which composite colour shows (a third of a cycle in
// a dot, as in consoles whose dot is two thirds of a subcarrier's cycle) and
// beside it. What alternates from frame to frame while the scene stands is no
// motion, and noise has no favourite frequency.
type waves struct{ at, beside []float64 }

var (
	waveAt     = 1.0 / 3
	waveBeside = []float64{0.27, 0.29, 0.38, 0.40}
)

func (w *waves) add(a, b *screen.Screen) {
	if len(w.at) >= 24 {
		return // enough
	}
	at, beside := 0.0, 0.0
	diff := make([]float64, a.W)
	for y := 4; y < a.H; y += 8 {
		moved := false
		for x := range diff {
			diff[x] = float64(a.Y[y*a.W+x]) - float64(b.Y[y*a.W+x])
			moved = moved || math.Abs(diff[x]) > 60
		}
		if moved {
			continue
		}
		at += power(diff, waveAt)
		for _, f := range waveBeside {
			beside += power(diff, f) / float64(len(waveBeside))
		}
	}
	if beside > 0 {
		w.at, w.beside = append(w.at, at), append(w.beside, beside)
	}
}

func power(v []float64, f float64) float64 {
	sum := complex(0, 0)
	step := cmplx.Exp(complex(0, 2*math.Pi*f))
	turn := complex(1, 0)
	for _, x := range v {
		sum += complex(x, 0) * turn
		turn *= step
	}
	return real(sum)*real(sum) + imag(sum)*imag(sum)
}

// ratio is the median of the power over what lies beside it; 0 without pairs.
func (w *waves) ratio() float64 {
	var v []float64
	for i := range w.at {
		v = append(v, w.at[i]/w.beside[i])
	}
	return quantile(v, 0.5)
}

// quantile of v, which is not changed; 0 when it is empty.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return s[min(int(q*float64(len(s))), len(s)-1)]
}
