package harness

import "strconv"

// Percent writes a share in per cent, three significant digits.
func Percent(x float64) string { return strconv.FormatFloat(x*100, 'g', 3, 64) + " %" }
