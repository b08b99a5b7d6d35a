package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Weighing is what a count of repeats says about a Claim.
type Weighing struct {
	Proven  bool `json:"proven"`  // For has reached 1/(1-Confidence)
	Refuted bool `json:"refuted"` // Against has
	// CleanNeeded is how many further repeats, all of them clean, prove the
	// claim; 0 when it is proven, -1 when a million do not.
	CleanNeeded int64   `json:"clean_needed"`
	For         float64 `json:"for"`     // e-value against a rate of Below or more
	Against     float64 `json:"against"` // e-value against a rate of Below or less
}

// cleanMost is how far CleanNeeded looks.
const cleanMost = 1_000_000

// Weigh says whether n repeats, parted of which parted, prove the claim or
// refute it. It may be asked after every repeat, and the repeats ended at the
// first answer or at any other moment: whatever the rule for stopping, a false
// claim is ever proven with a chance of at most 1-Confidence, and so is a true
// one ever refuted. A fixed count such as RepeatsNeeded has this only when n
// is settled before; the price here is nothing when all repeats are clean, and
// some more repeats when not.
//
// For and Against are e-values: likelihood ratios against the rate Below,
// mixed over the other rates. For mixes the rate 0, with a weight w, and the
// rates from 0 to Below evenly, with 1-w; Against mixes those from Below to 1
// evenly. Each is a nonnegative supermartingale that starts at 1 for every
// rate it speaks against, so the chance that it ever reaches 1/(1-Confidence)
// is at most 1-Confidence (J. Ville, Étude critique de la notion de collectif,
// 1939; for mixtures H. Robbins, Annals of Mathematical Statistics
// 41:1397-1409, 1970; for e-values A. Ramdas, P. Grünwald, V. Vovk and G.
// Shafer, Statistical Science 38:576-601, 2023). w is the least weight for
// which clean repeats alone prove the claim at RepeatsNeeded, but at most
// 0.999; where that cap takes hold the proof comes
// later, by at most 1+0.001/Below repeats. An e-value below 1 that would need
// an incomplete beta integral below 1e-308 is given as 0, and one beyond the
// range of numbers as the greatest.
//
// It is an error (ErrRange) when the claim or a count is out of range. Checked
// by weigh_test.go.
func (c Claim) Weigh(parted, n int64) (Weighing, error) {
	if err := c.check(); err != nil {
		return Weighing{}, err
	}
	if err := checkCount(parted, n); err != nil {
		return Weighing{}, err
	}
	if n > 1<<50 {
		return Weighing{}, fmt.Errorf("%w: %d repeats", ErrRange, n)
	}
	w, err := c.weight()
	if err != nil {
		return Weighing{}, err
	}
	// In logs, for the values overflow.
	need := -math.Log1p(-c.Confidence)
	clean := func(more int64) float64 { return c.logFor(parted, n+more, w) }
	out := Weighing{For: finite(clean(0)), Against: finite(c.logAgainst(parted, n))}
	out.Proven = clean(0) >= need
	out.Refuted = c.logAgainst(parted, n) >= need
	if out.Proven {
		return out, nil
	}
	if clean(cleanMost) < need {
		out.CleanNeeded = -1
		return out, nil
	}
	// For grows with every clean repeat.
	low, high := int64(0), int64(cleanMost)
	for high-low > 1 {
		if mid := (low + high) / 2; clean(mid) >= need {
			high = mid
		} else {
			low = mid
		}
	}
	out.CleanNeeded = high
	return out, nil
}

// finite is e^x, at most the greatest number that JSON can hold.
func finite(x float64) float64 { return min(math.Exp(x), math.MaxFloat64) }

// weight of the rate 0 in For.
func (c Claim) weight() (float64, error) {
	n, err := RepeatsNeeded(c.Below, c.Confidence)
	if err != nil {
		return 0, err
	}
	need := 1 / (1 - c.Confidence)
	zero, even := math.Exp(c.logZero(n)), math.Exp(c.logEven(0, n))
	// The rounding of the sum must not cost a repeat.
	return min(0.999, max(0, (need-even)/(zero-even))+1e-9), nil
}

// logZero is the likelihood ratio of the rate 0 after n clean repeats.
func (c Claim) logZero(n int64) float64 { return -float64(n) * math.Log1p(-c.Below) }

// logRef is the likelihood of the rate Below.
func (c Claim) logRef(k, n int64) float64 {
	return float64(k)*math.Log(c.Below) + float64(n-k)*math.Log1p(-c.Below)
}

// logEven is that of the rates from 0 to Below, evenly mixed.
func (c Claim) logEven(k, n int64) float64 {
	if k == 0 {
		// The integral in closed form, exact for any n.
		m := float64(n) + 1
		return math.Log(-math.Expm1(m*math.Log1p(-c.Below))) - math.Log(m*c.Below) + c.logZero(n)
	}
	a, b := float64(k)+1, float64(n-k)+1
	return mathext.Lbeta(a, b) + math.Log(mathext.RegIncBeta(a, b, c.Below)) - math.Log(c.Below) - c.logRef(k, n)
}

func (c Claim) logFor(k, n int64, w float64) float64 {
	even := math.Log1p(-w) + c.logEven(k, n)
	if k > 0 {
		return even
	}
	zero := math.Log(w) + c.logZero(n)
	top := max(zero, even)
	return top + math.Log(math.Exp(zero-top)+math.Exp(even-top))
}

// logAgainst is the likelihood ratio of the rates from Below to 1, evenly mixed.
func (c Claim) logAgainst(k, n int64) float64 {
	a, b := float64(k)+1, float64(n-k)+1
	return mathext.Lbeta(a, b) + math.Log(mathext.RegIncBeta(b, a, 1-c.Below)) - math.Log1p(-c.Below) - c.logRef(k, n)
}
