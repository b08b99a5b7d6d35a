package evidence

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"latchproof/harness/clock"
)

// SameClock holds a frame clock that was told against one found anew. The error is
// ErrDiffers, and names the first difference.
func SameClock(told, found clock.Summary) error {
	if at := Differ(told, found); at != "" {
		return fmt.Errorf("%w: clock: %s", ErrDiffers, at)
	}
	return nil
}

// Differ names the first place in which two values differ as JSON; empty when they
// do not. Numbers may differ as Near allows.
func Differ(told, found any) string {
	a, err := generic(told)
	if err != nil {
		return err.Error()
	}
	b, err := generic(found)
	if err != nil {
		return err.Error()
	}
	return walk("", a, b)
}

func generic(v any) (any, error) {
	src, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	var out any
	err = json.Unmarshal(src, &out)
	return out, err
}

func walk(at string, told, found any) string {
	switch a := told.(type) {
	case map[string]any:
		b, ok := found.(map[string]any)
		if !ok {
			break
		}
		keys := maps.Clone(a)
		maps.Copy(keys, b)
		for _, k := range slices.Sorted(maps.Keys(keys)) {
			if d := walk(at+"."+k, a[k], b[k]); d != "" {
				return d
			}
		}
		return ""
	case []any:
		b, ok := found.([]any)
		if !ok || len(a) != len(b) {
			break
		}
		for i := range a {
			if d := walk(fmt.Sprintf("%s[%d]", at, i), a[i], b[i]); d != "" {
				return d
			}
		}
		return ""
	case float64:
		if b, ok := found.(float64); ok && Near(a, b) {
			return ""
		}
	default:
		if told == found {
			return ""
		}
	}
	return fmt.Sprintf("%s is told as %s and found as %s", trim(at), short(told), short(found))
}

func trim(at string) string {
	if at == "" {
		return "it"
	}
	return at[1:]
}

// short is a value in a few words.
func short(v any) string {
	if v == nil {
		return "nothing"
	}
	s := []rune(fmt.Sprint(v))
	if len(s) > 80 {
		return string(s[:80]) + "..."
	}
	return string(s)
}
