package index

import (
	"errors"
	"fmt"
)

// Bounds of a report.
const (
	maxBytes  = 32 << 20
	maxDepth  = 32
	maxValues = 400_000 // in lists
)

// bounded refuses JSON that would take far more memory than its own size: many
// entries of lists, or deep nesting. It looks at brackets, commas and strings
// only; whether it is JSON at all is the decoder's matter.
func bounded(data []byte) error {
	var lists [maxDepth]bool
	depth, values := 0, 0
	for i := 0; i < len(data); i++ {
		switch data[i] {
		case '"':
			for i++; i < len(data) && data[i] != '"'; i++ {
				if data[i] == '\\' {
					i++
				}
			}
		case '{', '[':
			if depth == maxDepth {
				return fmt.Errorf("more than %d lists and objects in one another", maxDepth)
			}
			lists[depth] = data[i] == '['
			depth++
			if data[i] == '[' {
				values++
			}
		case '}', ']':
			if depth == 0 {
				return errors.New("not JSON: a bracket too many")
			}
			depth--
		case ',':
			if depth > 0 && lists[depth-1] {
				values++
			}
		}
		if values > maxValues {
			return fmt.Errorf("more than %d list entries", maxValues)
		}
	}
	return nil
}
