package baseline

import "latchproof/harness/stats"

// What the tests look at.
var SwapSlowly = swapSlowly

// LogRank is logRank.
func LogRank(a, b []stats.Lifetime) (p, least float64) { return logRank(a, b) }

// Scores are the log-rank scores of all runs.
func Scores(all []stats.Lifetime) []float64 { return scoresOf(all) }

// Drawn is the chance by lot.
func Drawn(a, b []stats.Lifetime) float64 {
	scores := scoresOf(append(append([]stats.Lifetime{}, a...), b...))
	seen := 0.0
	for _, s := range scores[:len(a)] {
		seen += s
	}
	return drawn(scores, len(a), seen)
}
