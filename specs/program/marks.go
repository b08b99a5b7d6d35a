package program

import (
	"regexp"
	"unicode/utf8"
)

const maxMarkName = 64

var markForm = regexp.MustCompile(`^\pL[\pL\pM0-9_]*(-\pL[\pL\pM0-9_]*)*$`)

// ValidMark reports whether a name can be a mark: letters, digits and "_" from
// a letter on, such words joined by "-", at most 64 characters.
func ValidMark(name string) bool {
	return utf8.RuneCountInString(name) <= maxMarkName && markForm.MatchString(name)
}
