package checks

import (
	"fmt"
	"image"

	"latchproof/specs"
)

// want is what the companions of `reads` ask of the value; none of them asks
// only that it can be read.
type want struct {
	number, least, most *int64
	text                *string
}

// maxDigits is how many characters are read at most: 16 digits fit 64 bits, and
// every number of JSON.
const maxDigits = 16

var anyNumber = specs.Int{Min: 0, Max: 9_999_999_999_999_999}

var readText = specs.Text{Min: 1, Max: maxDigits, Says: "a number or a text"}

// wantCompanions are the keys beside `reads`.
func wantCompanions() map[string]map[string]any {
	describe := func(s map[string]any, about string) map[string]any {
		s["description"] = about
		return s
	}
	return map[string]map[string]any{
		"equals": {"description": "With `reads`: the number, or the text of all characters, that must be read.",
			"oneOf": []any{anyNumber.Schema(), readText.Schema()}},
		"at_least": describe(anyNumber.Schema(), "With `reads`: the least number that may be read."),
		"at_most":  describe(anyNumber.Schema(), "With `reads`: the greatest number that may be read."),
	}
}

func readWant(v *specs.Value) (w want, ok bool) {
	ok = true
	number := func(key string) *int64 {
		x, given := v.Beside(key)
		if !given {
			return nil
		}
		n, good := anyNumber.Read(x)
		ok = ok && good
		return &n
	}
	w.least, w.most = number("at_least"), number("at_most")
	if e, given := v.Beside("equals"); given {
		if e.IsText() {
			s, good := readText.Read(e)
			w.text, ok = &s, ok && good
		} else {
			w.number = number("equals")
		}
		for _, k := range []string{"at_least", "at_most"} {
			if x, also := v.Beside(k); also {
				x.Fail("not together with equals")
				ok = false
			}
		}
	} else if ok && w.least != nil && w.most != nil && *w.least > *w.most {
		x, _ := v.Beside("at_most")
		x.Fail("%d is below at_least %d", *w.most, *w.least)
		ok = false
	}
	return w, ok
}

// says is what is wanted, in words that follow a verb.
func (w want) says() string {
	switch {
	case w.text != nil:
		return fmt.Sprintf("%q", *w.text)
	case w.number != nil:
		return fmt.Sprint(*w.number)
	case w.least != nil && w.most != nil:
		return fmt.Sprintf("%d to %d", *w.least, *w.most)
	case w.least != nil:
		return fmt.Sprintf("%d or more", *w.least)
	case w.most != nil:
		return fmt.Sprintf("%d or less", *w.most)
	}
	return "any number or text"
}

// holds says whether what was read is wanted. number is nil when the text is no
// number.
func (w want) holds(text string, number *int64) bool {
	if w.text != nil {
		return text == *w.text
	}
	if w.number == nil && w.least == nil && w.most == nil {
		return true
	}
	if number == nil {
		return false
	}
	n := *number
	return (w.number == nil || n == *w.number) && (w.least == nil || n >= *w.least) && (w.most == nil || n <= *w.most)
}

// distance is an image.Point as a value: x and y in pixels.
func distance(p image.Point) [2]int { return [2]int{p.X, p.Y} }
