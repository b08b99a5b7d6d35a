// Package stats has the statistics that a verdict about repeats rests on.
package stats
