package verify

import "latchproof/harness/evidence"

// differ names the first place in which two values differ as JSON; empty when they
// do not.
func differ(told, found any) string { return evidence.Differ(told, found) }

// same says whether two values are the same as JSON.
func same(a, b any) bool { return differ(a, b) == "" }
