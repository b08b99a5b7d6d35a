package specs

import "latchproof/specs/console"

// nearest is the known word that a mistyped word most likely meant, or "" when
// none is near.
func nearest(word string, known []string) string {
	n, _ := console.Nearest(word, known)
	return n
}
