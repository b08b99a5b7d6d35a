// Package lockstep compares the screens and reads of runs: whether they show
// the same picture on the same frame, where they part, and of what kind the
// parting is.
package lockstep
