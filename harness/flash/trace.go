package flash

import (
	"errors"
	"io"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// OfTrace looks at every frame of a trace from a frame on, at a frame rate in
// hertz. A picture that may be of a frame or of its neighbour is taken for the
// frame's. Errors: those of New and of the trace.
func OfTrace(t lockstep.Trace, from console.Frame, hz float64) (_ Result, err error) {
	l := t.Layout()
	w, err := New(l.W, l.H, hz)
	if err != nil {
		return Result{}, err
	}
	c, err := t.Open()
	if err != nil {
		return Result{}, err
	}
	w.first, w.last = from, from-1
	defer func() { err = errors.Join(err, c.Close()) }()
	if err := c.Seek(from); err != nil {
		return Result{}, err
	}
	for {
		var p lockstep.Picture
		if err := c.Next(&p); err == io.EOF {
			return w.Finish(t.Len() - 1), nil
		} else if err != nil {
			return Result{}, err
		}
		if p.Sight == lockstep.Unseen {
			continue
		}
		if err := w.Features(p.Frame, p.Features); err != nil {
			return Result{}, err
		}
	}
}
