package verify

import (
	"bytes"
	"encoding/json"

	"latchproof/harness/evidence"
)

// differ names the first place in which two values differ as JSON; empty when they
// do not.
func differ(told, found any) string { return evidence.Differ(told, found) }

// same says whether two values are the same as JSON, to the last digit.
func same(a, b any) bool {
	x, err := canonical(a)
	if err != nil {
		return false
	}
	y, err := canonical(b)
	return err == nil && bytes.Equal(x, y)
}

// canonical is a value as JSON with the keys of objects in order.
func canonical(v any) ([]byte, error) {
	src, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	d := json.NewDecoder(bytes.NewReader(src))
	d.UseNumber()
	var x any
	if err := d.Decode(&x); err != nil {
		return nil, err
	}
	return json.Marshal(x)
}
