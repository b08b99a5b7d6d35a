package lockstep

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// steadyFrames is how many frames must be known before whole pictures are
	// judged.
	steadyFrames = 8
	// steadyRatio is how much the noise of a whole picture must rise at least,
	// steadySpread the least standard deviation that its logarithm is believed
	// to have from frame to frame, and steadyFloor the least noise looked at: less may
	// be an encoder's that decides otherwise for a few pictures.
	steadyRatio  = 1.3
	steadySpread = 0.03
	steadyFloor  = codecScale
	// steadyWeak is the part of the threshold that confirms a difference.
	steadyWeak = 0.9
)

// steady finds what changes the whole picture a little and no block much, such
// as a background one pixel further: the luma noise of a picture against what
// is known of the same classes of blocks, the classes weighed by their size. The
// logarithm of that ratio is held against those of the frames before by a
// prediction limit of Student's t, so that a source whose noise comes and goes,
// such as a codec's key pictures, sets its own limit.
type steady struct {
	noise  [classes]ring // own noise of the frames learned, floored
	ratios ring          // logarithms, of the frames learned
}

// ratio is the logarithm of the noise of a picture against what is known.
func (s *steady) ratio(own noises, m *meter) (float64, bool) {
	var sum, n float64
	for c := range own {
		mean, _ := s.noise[c].moments()
		if len(s.noise[c].v) < steadyFrames/2 || m.hist[c][0].n < classMin {
			continue
		}
		x := max(steadyFloor, own[c][0]) / mean
		k := float64(m.hist[c][0].n)
		sum += k * x * x
		n += k
	}
	if n < 2*float64(m.layout.Blocks()) {
		return 0, false // less than half of the luma features
	}
	return math.Log(sum/n) / 2, true
}

// test is the ratio in multiples of its threshold, 0 when too little is known.
func (s *steady) test(own noises, m *meter) float64 {
	if len(s.ratios.v) < steadyFrames {
		return 0
	}
	x, ok := s.ratio(own, m)
	if !ok {
		return 0
	}
	mean, sd := s.ratios.moments()
	limit := max(mean, 0) + max(math.Log(steadyRatio), max(sd, steadySpread)*predicted[len(s.ratios.v)])
	return max(0, x) / limit
}

func (s *steady) learn(own noises, m *meter) {
	if x, ok := s.ratio(own, m); ok {
		s.ratios.put(x, knownFrames)
	}
	for c := range own {
		if m.hist[c][0].n >= classMin {
			s.noise[c].put(max(steadyFloor, own[c][0]), knownFrames)
		}
	}
}

// predict is how many standard deviations of a sample of n the next value of
// the same normal distribution passes with a chance of FalseAlarm: Student's t
// with n-1 degrees of freedom times the root of 1 + 1/n (NIST/SEMATECH
// e-Handbook of Statistical Methods, 7.2.2 and 4.5.1.2 for a new observation).
func predict(n int) float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}
	return -t.Quantile(FalseAlarm) * math.Sqrt(1+1/float64(n))
}

// predicted holds predict for every number of frames that can be known.
var predicted = func() (out [knownFrames + 1]float64) {
	for n := steadyFrames; n < len(out); n++ {
		out[n] = predict(n)
	}
	return out
}()
