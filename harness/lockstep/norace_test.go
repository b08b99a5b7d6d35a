//go:build !race

package lockstep_test

const slow = false
