package lockstep

import (
	"encoding/binary"
	"fmt"
	"io"

	"latchproof/specs/console"
)

// fileCursor walks a trace file. While the frames of a chunk are taken, the
// next is read and unpacked in a goroutine; so it holds two chunks.
type fileCursor struct {
	t     *TraceFile
	at    console.Frame
	now   *loaded
	ahead chan *loaded // gives the chunk that is being loaded; nil when none is
	next  int          // which that is
	spare *loaded
}

// loaded is a chunk in memory.
type loaded struct {
	chunk  int // -1 for none
	c      chunk
	packed []byte
	raw    []byte
	err    error
}

func (c *fileCursor) Next(p *Picture) error {
	if c.at >= c.t.frames {
		return io.EOF
	}
	k := int(c.at / chunkFrames) // every chunk but the last is full
	if c.now == nil || c.now.chunk != k {
		if err := c.turn(k); err != nil {
			return err
		}
	}
	i := int(c.at) - int(c.t.chunks[k].first)
	*p = Picture{Frame: c.at, Sight: c.now.c.sights[i], Features: c.now.c.features[i]}
	c.at++
	return nil
}

// turn makes chunk k the one in hand and, when chunks are read in order, has the
// next one loaded.
func (c *fileCursor) turn(k int) error {
	old := c.now
	if old == nil {
		old = new(loaded)
	}
	inOrder := c.now != nil && c.now.chunk == k-1 || c.ahead != nil && c.next == k
	c.now = nil
	l := c.wait()
	if l == nil {
		l = c.spare
		c.spare = nil
		if l == nil {
			l = new(loaded)
		}
	}
	if l.chunk != k || l.err != nil || l.raw == nil {
		c.t.load(k, l)
	}
	if l.err != nil {
		c.spare = l
		return l.err
	}
	c.now = l
	if inOrder && k+1 < len(c.t.chunks) {
		ahead := make(chan *loaded, 1)
		c.ahead, c.next = ahead, k+1
		go func() {
			c.t.load(k+1, old)
			ahead <- old
		}()
	} else {
		c.spare = old
	}
	return nil
}

// wait takes the chunk that was loaded ahead, nil when there is none.
func (c *fileCursor) wait() *loaded {
	if c.ahead == nil {
		return nil
	}
	l := <-c.ahead
	c.ahead = nil
	return l
}

// load reads, checks and unpacks a chunk.
func (t *TraceFile) load(k int, l *loaded) {
	l.chunk, l.err = k, nil
	place := t.chunks[k]
	n := chunkSize + place.packed
	if cap(l.packed) < n {
		l.packed = make([]byte, n)
	}
	l.packed = l.packed[:n]
	if got, err := t.r.ReadAt(l.packed, place.at); got < n {
		l.err = err
		if err == io.EOF {
			l.err = t.fail(place.at+int64(got), "the file is cut off")
		}
		return
	}
	head, body := l.packed[:chunkSize-4], l.packed[chunkSize:]
	if binary.LittleEndian.Uint32(l.packed[chunkSize-4:]) != checksum(head, body) {
		l.err = t.fail(place.at, "checksum of the chunk differs")
		return
	}
	var err error
	if l.raw, err = decoder().DecodeAll(body, l.raw[:0]); err != nil {
		l.err = t.fail(place.at, "chunk does not unpack: "+err.Error())
		return
	}
	if err := l.c.unpack(t.layout, place.frames, l.raw); err != nil {
		l.err = t.fail(place.at, err.Error())
	}
}

func (c *fileCursor) Seek(f console.Frame) error {
	if f < 0 {
		return fmt.Errorf("frame %d is before the first", f)
	}
	c.at = f
	return nil
}

func (c *fileCursor) Close() error {
	c.wait()
	c.now, c.spare = nil, nil
	return nil
}
