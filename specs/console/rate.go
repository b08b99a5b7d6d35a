package console

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// maxRatePart bounds both numbers of a rate, so that they can be multiplied by
// a few million in 64 bits.
const maxRatePart = 1_000_000_000_000

// String is "39375000/655171", or "60" when the rate is whole.
func (r Rate) String() string {
	if r.Den == 1 {
		return strconv.FormatInt(r.Num, 10)
	}
	return fmt.Sprintf("%d/%d", r.Num, r.Den)
}

// ParseRate reads "39375000/655171" or "60", in hertz, and brings it to lowest
// terms. Signs, spaces, decimals and exponents are errors.
func ParseRate(s string) (Rate, error) {
	num, den, fraction := strings.Cut(s, "/")
	if !fraction {
		den = "1"
	}
	if !digits(num) || !digits(den) {
		return Rate{}, fmt.Errorf("%s is not a whole number or a fraction such as 39375000/655171", quote(s))
	}
	n, errN := strconv.ParseInt(num, 10, 64)
	d, errD := strconv.ParseInt(den, 10, 64)
	if errN != nil || errD != nil || n > maxRatePart || d > maxRatePart {
		return Rate{}, errors.New("both numbers must be at most 10^12")
	}
	if d == 0 {
		return Rate{}, errors.New("the lower number is 0")
	}
	if n == 0 {
		return Rate{}, errors.New("must be above 0")
	}
	g := gcd(n, d)
	return Rate{n / g, d / g}, nil
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// digits reports whether s is decimal digits and nothing else.
func digits(s string) bool {
	if s == "" {
		return false
	}
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// quote is strconv.Quote, cut short for messages.
func quote(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return strconv.Quote(s)
}
