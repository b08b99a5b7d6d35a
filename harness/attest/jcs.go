package attest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// canonical gives a JSON text in the form of RFC 8785: no white space, keys sorted
// by their UTF-16 code units, strings and numbers in one spelling. A text with a
// key twice, with a number that a double does not hold exactly as an integer, or
// that is no UTF-8 is an error. canonical_test.go has the RFC's examples.
func canonical(src []byte) ([]byte, error) {
	if !utf8.Valid(src) {
		return nil, errors.New("not UTF-8")
	}
	d := json.NewDecoder(bytes.NewReader(src))
	d.UseNumber()
	out, err := appendValue(nil, d, 0)
	if err != nil {
		return nil, err
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("more than one JSON value")
	}
	return out, nil
}

// maxDepth is more than twice as deep as a certificate is.
const maxDepth = 32

func appendValue(out []byte, d *json.Decoder, depth int) ([]byte, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("nested deeper than %d", maxDepth)
	}
	t, err := d.Token()
	if err != nil {
		if err == io.EOF {
			err = io.ErrUnexpectedEOF
		}
		return nil, err
	}
	switch t := t.(type) {
	case nil:
		return append(out, "null"...), nil
	case bool:
		return strconv.AppendBool(out, t), nil
	case string:
		return appendString(out, t), nil
	case json.Number:
		return appendNumber(out, t)
	case json.Delim:
		if t == '[' {
			return appendArray(out, d, depth)
		}
		return appendObject(out, d, depth)
	}
	return nil, fmt.Errorf("unexpected %v", t)
}

func appendArray(out []byte, d *json.Decoder, depth int) ([]byte, error) {
	out = append(out, '[')
	for i := 0; d.More(); i++ {
		if i > 0 {
			out = append(out, ',')
		}
		var err error
		if out, err = appendValue(out, d, depth+1); err != nil {
			return nil, err
		}
	}
	_, err := d.Token()
	return append(out, ']'), err
}

func appendObject(out []byte, d *json.Decoder, depth int) ([]byte, error) {
	values := map[string][]byte{}
	var keys []string
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return nil, err
		}
		key, ok := t.(string)
		if !ok {
			return nil, fmt.Errorf("unexpected %v", t)
		}
		if _, ok := values[key]; ok {
			return nil, fmt.Errorf("key %q twice", key)
		}
		if values[key], err = appendValue(nil, d, depth+1); err != nil {
			return nil, err
		}
		keys = append(keys, key)
	}
	if _, err := d.Token(); err != nil {
		return nil, err
	}
	slices.SortFunc(keys, func(a, b string) int { return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b))) })
	out = append(out, '{')
	for i, key := range keys {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(appendString(out, key), ':')
		out = append(out, values[key]...)
	}
	return append(out, '}'), nil
}

// appendString is section 3.2.2.2.
func appendString(out []byte, s string) []byte {
	out = append(out, '"')
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			out = append(out, '\\', c)
		case c >= ' ':
			out = append(out, c)
		case c >= '\b' && c <= '\r' && c != '\v':
			out = append(out, '\\', "btn-fr"[c-'\b'])
		default:
			out = fmt.Appendf(out, `\u%04x`, c)
		}
	}
	return append(out, '"')
}

// appendNumber is section 3.2.2.3, which is that of ECMAScript.
func appendNumber(out []byte, n json.Number) ([]byte, error) {
	f, err := n.Float64()
	if err != nil {
		return nil, fmt.Errorf("number %s does not fit a double", n)
	}
	if i, err := n.Int64(); err == nil && (i > 1<<53 || i < -1<<53) {
		return nil, fmt.Errorf("number %s is not exact as a double", n)
	}
	return appendDouble(out, f), nil
}

// appendDouble takes finite numbers.
func appendDouble(out []byte, f float64) []byte {
	abs := math.Abs(f)
	if abs == 0 {
		return append(out, '0') // -0 too
	}
	if abs >= 1e-6 && abs < 1e21 {
		return strconv.AppendFloat(out, f, 'f', -1, 64)
	}
	// Go writes at least two digits of exponent.
	s := strconv.FormatFloat(f, 'e', -1, 64)
	if i := strings.IndexByte(s, 'e') + 2; s[i] == '0' {
		s = s[:i] + s[i+1:]
	}
	return append(out, s...)
}
