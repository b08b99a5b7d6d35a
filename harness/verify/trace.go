package verify

import (
	"fmt"
	"slices"

	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs/console"
)

// trace opens the trace of a run and walks it once. It is held against the length
// of the run before anything is unpacked.
func (v *verifier) trace(r *run) (string, error) {
	name := r.name + "/" + record.TraceFile
	src, err := v.b.Open(name)
	if err != nil {
		return "", err
	}
	t, err := lockstep.ReadTrace(name, src, src.Size())
	if err != nil {
		return "", plainly(err)
	}
	want := lockstep.Layout{W: r.in.Console.Width, H: r.in.Console.Height}
	if t.Layout() != want {
		return "", broken("it is of a raster of %dx%d, and the console's is %dx%d", t.Layout().W, t.Layout().H, want.W, want.H)
	}
	seen := map[console.Frame]bool{}
	last := console.Frame(-1)
	for _, row := range r.in.Known.Rows {
		if row.State == record.Fresh {
			seen[row.Frame] = true
			last = max(last, row.Frame)
		}
	}
	if t.Len() != last+1 {
		return "", broken("it has %d frames, and frames.csv has pictures of %d", t.Len(), last+1)
	}
	cursor, err := t.Open()
	if err != nil {
		return "", err
	}
	defer cursor.Close()
	for f := range t.Len() {
		if f%256 == 0 && v.ctx.Err() != nil {
			return "", v.ctx.Err()
		}
		var p lockstep.Picture
		if err := cursor.Next(&p); err != nil {
			return "", plainly(err)
		}
		if there := p.Sight == lockstep.Seen; p.Sight == lockstep.Unsure || there != seen[f] {
			return "", broken("frames.csv and the trace do not agree whether frame %d has a picture", f)
		}
	}
	r.trace = t
	return fmt.Sprintf("%d frames, %d with a picture", t.Len(), len(seen)), nil
}

// sameTraces says in which frame two traces of the same layout differ first.
func sameTraces(a, b lockstep.Trace) error {
	if a.Layout() != b.Layout() || a.Len() != b.Len() {
		return broken("the trace has %d frames, and that of the video has %d", a.Len(), b.Len())
	}
	x, err := a.Open()
	if err != nil {
		return err
	}
	defer x.Close()
	y, err := b.Open()
	if err != nil {
		return err
	}
	defer y.Close()
	for f := range a.Len() {
		var p, q lockstep.Picture
		if err := x.Next(&p); err != nil {
			return plainly(err)
		}
		if err := y.Next(&q); err != nil {
			return plainly(err)
		}
		if p.Sight != q.Sight || !slices.Equal(p.Features, q.Features) {
			return broken("the trace is not that of the video: it differs at frame %d", f)
		}
	}
	return nil
}
