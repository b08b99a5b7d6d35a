package plot

import (
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
)

// even gives ticks from low to high at a step of 1, 2 or 5 times a power of
// ten, with at most most labels.
func even(low, high float64, most int, label func(v, step float64) string) []plot.Tick {
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return nil
	}
	step := math.Pow(10, math.Floor(math.Log10(span/float64(most))))
	for _, m := range []float64{1, 2, 5, 10, 20, 50} {
		if span/(m*step) <= float64(most-1)+1e-9 {
			step *= m
			break
		}
	}
	var out []plot.Tick
	for k := math.Ceil(low/step - 1e-9); k*step <= high+step*1e-9 && len(out) <= most; k++ {
		v := k*step + 0 // no negative zero
		out = append(out, plot.Tick{Value: v, Label: label(v, step)})
	}
	return out
}

// whole writes a whole number in groups of three, and a large one short.
func whole(v, _ float64) string {
	if math.Abs(v) >= 1e7 {
		return short(v)
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if v < 0 && s != "0" {
		s = "−" + s
	}
	return s
}

// share writes a share as per cent, as exact as the step needs.
func share(v, step float64) string {
	return strconv.FormatFloat(v*100, 'f', places10(step*100), 64) + " %"
}

// number writes a number as exact as the step needs.
func number(v, step float64) string {
	if math.Abs(v) >= 1e7 || step < 1e-4 {
		return short(v)
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', places10(step), 64)
	if v < 0 && strings.Trim(s, "0.") != "" {
		s = "−" + s
	}
	return s
}

// places10 is how many decimals a step shows.
func places10(step float64) int {
	return int(min(max(-math.Floor(math.Log10(step)+1e-9), 0), 9))
}

// decades gives the ticks of a logarithmic axis: a label at each power of ten,
// at 2 and 5 times it where there would be fewer than three labels, and not at
// each where there would be more than six.
func decades(low, high float64, label func(digit, power int) string) []plot.Tick {
	from, to := int(math.Ceil(math.Log10(low)-1e-9)), int(math.Floor(math.Log10(high)+1e-9))
	every := (to-from)/5 + 1
	few := to-from+1 < 3
	var out []plot.Tick
	for d := from - 1; d <= to; d++ {
		for m := 1; m < 10; m++ {
			v := float64(m) * math.Pow10(d)
			if v < low*(1-1e-9) || v > high*(1+1e-9) {
				continue
			}
			t := plot.Tick{Value: v}
			switch {
			case m == 1 && (d-from)%every == 0, few && (m == 2 || m == 5):
				t.Label = label(m, d)
			case every > 1:
				continue
			}
			out = append(out, t)
		}
	}
	return out
}

// written writes a digit times a power of ten as a decimal number where that is
// short.
func written(digit, power int) string {
	if power < -3 || power > 4 {
		return powered(digit, power)
	}
	return strconv.FormatFloat(float64(digit)*math.Pow10(power), 'f', max(-power, 0), 64)
}

// powered writes a digit times a power of ten as such.
func powered(digit, power int) string {
	s := "10" + superscript.Replace(strconv.Itoa(power))
	if digit == 1 {
		return s
	}
	return strconv.Itoa(digit) + "·" + s
}

// short writes any number with at most three digits.
func short(v float64) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	var m, e string
	for n := range 3 {
		s := strconv.FormatFloat(v, 'e', n, 64)
		m, e, _ = strings.Cut(s, "e")
		if f, err := strconv.ParseFloat(s, 64); err == nil && math.Abs(f-v) < math.Abs(v)*1e-6 {
			break
		}
	}
	n, _ := strconv.Atoi(e)
	s := "10" + superscript.Replace(strconv.Itoa(n))
	if m != "1" {
		s = strings.Replace(m, "-", "−", 1) + "·" + s
	}
	return s
}

var superscript = strings.NewReplacer("-", "⁻", "0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴", "5", "⁵", "6", "⁶", "7", "⁷", "8", "⁸", "9", "⁹")
