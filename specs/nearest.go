package specs

import "strings"

// nearest is the known word that a mistyped word most likely meant, or "" when
// none is near. Near means at most a third of the letters changed, and never
// more than two, by the edit distance of Levenshtein (1966) with swapped
// neighbours counted once (Damerau 1964).
func nearest(word string, known []string) string {
	if len(word) > 40 {
		return ""
	}
	word = strings.ToLower(word)
	best, at := "", 3
	for _, k := range known {
		limit := min(2, (len(k)+2)/3)
		if d := distance(word, strings.ToLower(k)); d <= limit && d < at {
			best, at = k, d
		}
	}
	return best
}

// distance is the optimal string alignment distance in bytes.
func distance(a, b string) int {
	var before []int
	prev := make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur := make([]int, len(b)+1)
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev = prev, cur
	}
	return prev[len(b)]
}
