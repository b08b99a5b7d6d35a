package lockstep

import (
	"fmt"
	"io"

	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// TraceWriter writes a trace file as a stream; it holds at most 64 frames.
// It is not safe for use from several goroutines.
type TraceWriter struct {
	w      io.Writer
	layout Layout
	next   console.Frame
	c      chunk
	spare  []Features
	raw    []byte
	packed []byte
	err    error
	closed bool
}

// NewTraceWriter writes the head of a trace file for a raster of at most
// 1024x1024 pixels.
func NewTraceWriter(w io.Writer, l Layout) (*TraceWriter, error) {
	if !l.valid() {
		return nil, fmt.Errorf("raster %dx%d: sides must be 1..%d", l.W, l.H, maxSide)
	}
	t := &TraceWriter{w: w, layout: l}
	t.write(appendHead(nil, l))
	return t, t.err
}

// Add puts the picture of a frame at the end. Frames must rise; those left out
// are unseen. s is nil when sight is Unseen.
func (t *TraceWriter) Add(f console.Frame, sight Sight, s *screen.Screen) error {
	if t.err != nil {
		return t.err
	}
	if t.closed {
		return fmt.Errorf("the trace is closed")
	}
	if err := checkAdd(t.layout, t.next, f, sight, s); err != nil {
		return err
	}
	for t.next < f && t.err == nil {
		t.put(Unseen, nil)
	}
	t.put(sight, s)
	return t.err
}

func (t *TraceWriter) put(sight Sight, s *screen.Screen) {
	var f Features
	if sight != Unseen {
		if n := len(t.spare); n > 0 {
			f, t.spare = t.spare[n-1], t.spare[:n-1]
		}
		f = Extract(s, f)
	}
	t.append(sight, f)
}

func (t *TraceWriter) append(sight Sight, f Features) {
	t.c.sights = append(t.c.sights, sight)
	t.c.features = append(t.c.features, f)
	t.next++
	if len(t.c.sights) == chunkFrames {
		t.flush()
	}
}

func (t *TraceWriter) flush() {
	if len(t.c.sights) == 0 {
		return
	}
	t.raw = t.c.pack(t.layout, t.raw[:0])
	t.packed = encoder().EncodeAll(t.raw, t.packed[:0])
	t.write(appendChunkHead(nil, t.c.first, len(t.c.sights), t.packed))
	t.write(t.packed)
	for _, f := range t.c.features {
		if f != nil {
			t.spare = append(t.spare, f)
		}
	}
	t.c.first = int64(t.next)
	t.c.sights, t.c.features = t.c.sights[:0], t.c.features[:0]
}

func (t *TraceWriter) write(b []byte) {
	if t.err == nil {
		_, t.err = t.w.Write(b)
	}
}

// Close writes what is left and the end mark. A file without its end mark is
// refused by OpenTrace. It does not close the writer below.
func (t *TraceWriter) Close() error {
	if t.closed {
		return t.err
	}
	t.closed = true
	t.flush()
	t.write(appendEnd(nil, int64(t.next)))
	return t.err
}
