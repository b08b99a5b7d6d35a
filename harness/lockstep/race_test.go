//go:build race

package lockstep_test

// slow: the race detector makes the pictures ten times slower, so fewer of
// them are made.
const slow = true
