package lockstep

import (
	"fmt"

	"latchproof/specs/console"
)

// AddFeatures is Add for features that were made already, Layout.Len() of
// them; nil when sight is Unseen. They are copied.
func (t *TraceWriter) AddFeatures(f console.Frame, sight Sight, features Features) error {
	switch {
	case sight == Unseen:
		return t.Add(f, sight, nil)
	case len(features) != t.layout.Len():
		return fmt.Errorf("frame %d has %d features, not %d", f, len(features), t.layout.Len())
	case f < t.next || sight > Seen:
		return checkAdd(t.layout, t.next, f, sight, nil)
	}
	for t.err == nil && !t.closed && t.next < f {
		if err := t.Add(t.next, Unseen, nil); err != nil {
			return err
		}
	}
	switch {
	case t.err != nil:
		return t.err
	case t.closed:
		return fmt.Errorf("the trace is closed")
	}
	var own Features
	if n := len(t.spare); n > 0 {
		own, t.spare = t.spare[n-1], t.spare[:n-1]
	}
	t.append(sight, append(own[:0], features...))
	return t.err
}
