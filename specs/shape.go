package specs

import (
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// Shape says what a value may be. The same shape reads the value and describes
// it in the JSON Schema, so that the two cannot drift apart.
type Shape interface {
	// Schema is the JSON Schema (draft 2020-12) of the value.
	Schema() map[string]any
}

// Reader is a shape that reads a value as a T. It reports every problem
// through the value; false means that something was reported.
type Reader[T any] interface {
	Shape
	Read(v *Value) (T, bool)
}

// scalar is the value's node when it is a plain or quoted scalar.
func (v *Value) scalar() (*yaml.Node, bool) {
	if v.node.Kind != yaml.ScalarNode || v.doc.refused[v.node] {
		return nil, false
	}
	return v.node, true
}

// Text is a text of Min to Max characters that matches Pattern (nil: any).
// Says names what is wanted in messages.
type Text struct {
	Min, Max int
	Pattern  *regexp.Regexp
	Says     string
}

// Schema describes the text.
func (t Text) Schema() map[string]any {
	s := map[string]any{"type": "string", "minLength": t.Min, "maxLength": t.Max}
	if t.Pattern != nil {
		s["pattern"] = t.Pattern.String()
	}
	return s
}

// Read reads the text. Numbers, true, false and nothing are not text unless
// they stand in quotes.
func (t Text) Read(v *Value) (string, bool) {
	n, ok := v.scalar()
	if !ok {
		v.want(t.Says)
		return "", false
	}
	switch n.Tag {
	case "!!str", "!!timestamp":
	case "!!null":
		v.want(t.Says)
		return "", false
	default:
		v.Fail("want %s, have %s; put it in quotes if it is meant as text", t.Says, short(n.Value))
		return "", false
	}
	count := utf8.RuneCountInString(n.Value)
	if count < t.Min || count > t.Max {
		v.Fail("want %s of %d to %d characters, have %d", t.Says, t.Min, t.Max, count)
		return "", false
	}
	if t.Pattern != nil && !t.Pattern.MatchString(n.Value) {
		v.Fail("want %s, have %s", t.Says, show(n.Value))
		return "", false
	}
	return n.Value, true
}

// Choice is one of a few words.
type Choice []string

// Schema lists the words.
func (c Choice) Schema() map[string]any {
	return map[string]any{"type": "string", "enum": []string(c)}
}

// Read reads the word.
func (c Choice) Read(v *Value) (string, bool) {
	n, ok := v.scalar()
	if ok && n.Tag == "!!str" {
		for _, w := range c {
			if n.Value == w {
				return w, true
			}
		}
		if near := nearest(n.Value, c); near != "" {
			v.Fail("want %s, have %s; did you mean %s?", c.says(), show(n.Value), near)
			return "", false
		}
	}
	v.want(c.says())
	return "", false
}

func (c Choice) says() string {
	if len(c) == 1 {
		return c[0]
	}
	return strings.Join(c[:len(c)-1], ", ") + " or " + c[len(c)-1]
}

var (
	plainInt    = regexp.MustCompile(`^-?(0|[1-9][0-9]*)$`)
	plainNumber = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`)
)

// Int is a whole number of Min to Max in plain decimal digits.
type Int struct{ Min, Max int64 }

// Schema describes the number.
func (i Int) Schema() map[string]any {
	return map[string]any{"type": "integer", "minimum": i.Min, "maximum": i.Max}
}

// Read reads the number.
func (i Int) Read(v *Value) (int64, bool) {
	n, ok := v.scalar()
	if !ok || n.Tag != "!!int" && n.Tag != "!!float" {
		v.want("a whole number")
		return 0, false
	}
	if !plainInt.MatchString(n.Value) {
		v.want("a whole number in plain decimal digits")
		return 0, false
	}
	x, err := strconv.ParseInt(n.Value, 10, 64)
	switch {
	case err != nil && n.Value[0] == '-', err == nil && x < i.Min:
		v.Fail("%s is below %d", short(n.Value), i.Min)
		return 0, false
	case err != nil, x > i.Max:
		v.Fail("%s is above %d", short(n.Value), i.Max)
		return 0, false
	}
	return x, true
}

// Number is a decimal number of Min to Max, both included.
type Number struct{ Min, Max float64 }

// Schema describes the number.
func (f Number) Schema() map[string]any {
	return map[string]any{"type": "number", "minimum": f.Min, "maximum": f.Max}
}

// Read reads the number.
func (f Number) Read(v *Value) (float64, bool) {
	n, ok := v.scalar()
	if !ok || n.Tag != "!!int" && n.Tag != "!!float" {
		v.want("a number")
		return 0, false
	}
	if !plainNumber.MatchString(n.Value) {
		v.want("a number in plain decimal digits")
		return 0, false
	}
	x, err := strconv.ParseFloat(n.Value, 64)
	switch {
	case err != nil && n.Value[0] == '-', err == nil && x < f.Min:
		v.Fail("%s is below %g", short(n.Value), f.Min)
		return 0, false
	case err != nil, x > f.Max:
		v.Fail("%s is above %g", short(n.Value), f.Max)
		return 0, false
	}
	return x, true
}

// Flag is true or false.
type Flag struct{}

// Schema describes the flag.
func (Flag) Schema() map[string]any { return map[string]any{"type": "boolean"} }

// Read reads the flag.
func (Flag) Read(v *Value) (bool, bool) {
	n, ok := v.scalar()
	if !ok || n.Tag != "!!bool" {
		v.want("true or false")
		return false, false
	}
	return n.Value[0] == 't' || n.Value[0] == 'T', true
}

// True is the word true and nothing else.
type True struct{}

// Schema describes the word.
func (True) Schema() map[string]any { return map[string]any{"const": true} }

// Read reads the word.
func (True) Read(v *Value) (bool, bool) {
	yes, ok := Flag{}.Read(v)
	if ok && !yes {
		v.Fail("want true; leave the key out otherwise")
	}
	return yes, ok && yes
}

var plainDuration = regexp.MustCompile(`^([0-9]+(\.[0-9]+)?(ms|s|m|h))+$`)

// Duration is a length of time of Min to Max such as 90s, 2m or 1h30m.
type Duration struct{ Min, Max time.Duration }

// Schema describes the text; the limits cannot be expressed.
func (d Duration) Schema() map[string]any {
	return map[string]any{"type": "string", "maxLength": 32, "pattern": plainDuration.String()}
}

// Read reads the length of time.
func (d Duration) Read(v *Value) (time.Duration, bool) {
	n, ok := v.scalar()
	if !ok || n.Tag != "!!str" || len(n.Value) > 32 || !plainDuration.MatchString(n.Value) {
		v.want("a length of time such as 90s or 2m")
		return 0, false
	}
	x, err := time.ParseDuration(n.Value)
	switch {
	case err != nil, x > d.Max:
		v.Fail("%s is above %s", n.Value, d.Max)
		return 0, false
	case x < d.Min:
		v.Fail("%s is below %s", n.Value, d.Min)
		return 0, false
	}
	return x, true
}

// List is a list of Min to Max entries.
type List[T any] struct {
	Of       Reader[T]
	Min, Max int
	Unique   bool   // no entry twice; schema only, the owner reports it
	Partial  bool   // Read also returns the entries that have a problem, as far as they were read
	Says     string // what is wanted, for messages
}

// Schema describes the list.
func (l List[T]) Schema() map[string]any {
	s := map[string]any{"type": "array", "items": l.Of.Schema(), "minItems": l.Min, "maxItems": l.Max}
	if l.Unique {
		s["uniqueItems"] = true
	}
	return s
}

// Read reads every entry, and returns those that were read without a problem.
func (l List[T]) Read(v *Value) ([]T, bool) {
	if v.node.Kind != yaml.SequenceNode || v.doc.refused[v.node] {
		v.want(l.Says)
		return nil, false
	}
	if n := len(v.node.Content); n < l.Min || n > l.Max {
		if l.Min == l.Max {
			v.Fail("want %s, have a list of %d", l.Says, n)
		} else {
			v.Fail("want %s of %d to %d entries, have %d", l.Says, l.Min, l.Max, n)
		}
		return nil, false
	}
	list, good := make([]T, 0, len(v.node.Content)), true
	for i, n := range v.node.Content {
		x, ok := l.Of.Read(v.child("["+strconv.Itoa(i)+"]", n))
		good = good && ok
		if ok || l.Partial {
			list = append(list, x)
		}
	}
	return list, good
}

// NameShape is a name of a spec or checkpoint: up to 80 visible characters,
// single spaces between words.
var NameShape = Text{Min: 1, Max: 80, Pattern: regexp.MustCompile(`^[^\p{C}\p{Z}]+( [^\p{C}\p{Z}]+)*$`),
	Says: "a name of visible characters and single spaces"}
