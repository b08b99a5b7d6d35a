package lockstep

// Noise has no pattern that a processor could foretell, so these have no
// branches; the built-in max and min have.

// size is the absolute value.
func size(v int32) int32 {
	m := v >> 31
	return (v ^ m) - m
}

// upper is the greater of two numbers less than 2^30 apart.
func upper(a, b int32) int32 {
	d := a - b
	return a - d&(d>>31)
}

// lower is the lesser of two numbers less than 2^30 apart.
func lower(a, b int32) int32 {
	d := a - b
	return b + d&(d>>31)
}
