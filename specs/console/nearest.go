package console

import (
	"strings"
	"unicode/utf8"
)

// Nearest gives the name that a mistyped word most likely meant, by
// Levenshtein's edit distance in characters: a name equal but for case, or
// else one at most two edits away and fewer than the word has characters. Of
// equally near names the first wins. It reports false when none is near.
func Nearest(word string, names []string) (string, bool) {
	for _, n := range names {
		if strings.EqualFold(n, word) {
			return n, true
		}
	}
	size := utf8.RuneCountInString(word)
	if size > 64 {
		return "", false
	}
	best, at := min(3, size), -1
	for i, n := range names {
		if d := distance(word, n); d < best {
			best, at = d, i
		}
	}
	if at < 0 {
		return "", false
	}
	return names[at], true
}

// distance is the Levenshtein distance of two words in characters (V. I.
// Levenshtein, "Binary codes capable of correcting deletions, insertions, and
// reversals", Soviet Physics Doklady 10:707-710, 1966), row by row.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i, cx := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j, cy := range y {
			cost := 1
			if cx == cy {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(diagonal+cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(y)]
}
