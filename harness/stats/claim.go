package stats

import (
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"
)

// Claim is "divergence below R at C": the rate at which a further repeat parts
// from the reference is below Below, at Confidence. Both are inside 0..1.
type Claim struct {
	Below      float64 `json:"below"`
	Confidence float64 `json:"confidence"`
}

var claimForm = regexp.MustCompile(`^\s*divergence\s+below\s+(.+?)\s+at\s+(.+?)\s*$`)

// ParseClaim reads a claim, such as
//
//	divergence below 1% at 95%
//	divergence below 0.01 at 0.95
//	divergence below 1 in 100 at 19 in 20
//
// A rate and a confidence are each a percentage, a fraction or "N in M", with
// decimal digits only (no exponent). It is an error (ErrRange) when the text
// has another form or a value is not inside 0..1.
func ParseClaim(s string) (Claim, error) {
	m := claimForm.FindStringSubmatch(s)
	if m == nil {
		return Claim{}, fmt.Errorf("%w: claim %q is not of the form \"divergence below 1%% at 95%%\"", ErrRange, s)
	}
	var c Claim
	for i, to := range []*float64{&c.Below, &c.Confidence} {
		v, ok := parseRate(m[i+1])
		if !ok {
			return Claim{}, fmt.Errorf("%w: %q in claim %q is not a rate like 1%%, 0.01 or 1 in 100", ErrRange, m[i+1], s)
		}
		*to = v
	}
	return c, c.check()
}

func (c Claim) check() error {
	if !(c.Below > 0 && c.Below < 1) {
		return fmt.Errorf("%w: rate %v is not between 0 and 1", ErrRange, c.Below)
	}
	return checkConfidence(c.Confidence)
}

var (
	percentForm = regexp.MustCompile(`^(\d{1,40}|\d{0,40}\.\d{1,400})\s*%$`)
	decimalForm = regexp.MustCompile(`^(\d{1,40}|\d{0,40}\.\d{1,400})$`)
	shareForm   = regexp.MustCompile(`^(\d{1,40})\s+in\s+(\d{1,40})$`)
)

// parseRate rounds only once, so that 0.7% is 0.007.
func parseRate(s string) (float64, bool) {
	r, by := new(big.Rat), big.NewRat(1, 1)
	if m := percentForm.FindStringSubmatch(s); m != nil {
		r.SetString(m[1])
		by.SetInt64(100)
	} else if m := shareForm.FindStringSubmatch(s); m != nil {
		r.SetString(m[1])
		by.SetString(m[2])
	} else if decimalForm.MatchString(s) {
		r.SetString(s)
	} else {
		return 0, false
	}
	if by.Sign() == 0 {
		return 0, false
	}
	v, _ := r.Quo(r, by).Float64()
	return v, true
}

// String is the claim in per cent, as ParseClaim reads it back.
func (c Claim) String() string {
	return "divergence below " + percent(c.Below) + " at " + percent(c.Confidence)
}

// percent shifts the point of the shortest decimal by two digits.
func percent(x float64) string {
	s := strconv.FormatFloat(x, 'f', -1, 64)
	if !(x > 0 && x < 1) {
		return s
	}
	digits := strings.TrimPrefix(s, "0.") + "00"
	whole, rest := strings.TrimLeft(digits[:2], "0"), strings.TrimRight(digits[2:], "0")
	if whole == "" {
		whole = "0"
	}
	if rest != "" {
		whole += "." + rest
	}
	return whole + "%"
}
