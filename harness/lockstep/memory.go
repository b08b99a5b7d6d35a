package lockstep

import (
	"fmt"
	"io"

	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// Memory is a trace held in memory. The zero value is not usable; see
// NewMemory. Adding is not safe while it is read.
type Memory struct {
	layout   Layout
	sights   []Sight
	features []Features
}

// NewMemory makes an empty trace for a raster.
func NewMemory(l Layout) *Memory { return &Memory{layout: l} }

// Add puts the picture of a frame at the end. Frames must rise; those left out
// are unseen. s is nil when sight is Unseen.
func (m *Memory) Add(f console.Frame, sight Sight, s *screen.Screen) error {
	if err := checkAdd(m.layout, m.Len(), f, sight, s); err != nil {
		return err
	}
	for m.Len() < f {
		m.put(Unseen, nil)
	}
	if sight == Unseen {
		m.put(Unseen, nil)
		return nil
	}
	m.put(sight, Extract(s, nil))
	return nil
}

func (m *Memory) put(sight Sight, f Features) {
	m.sights = append(m.sights, sight)
	m.features = append(m.features, f)
}

func checkAdd(l Layout, next, f console.Frame, sight Sight, s *screen.Screen) error {
	switch {
	case f < next:
		return fmt.Errorf("frame %d is given after frame %d", f, next-1)
	case sight > Seen:
		return fmt.Errorf("frame %d: sight %d is unknown", f, sight)
	case sight != Unseen && s == nil:
		return fmt.Errorf("frame %d is seen but has no picture", f)
	case sight != Unseen:
		return sameLayout(l, Layout{s.W, s.H})
	}
	return nil
}

// Layout is the raster.
func (m *Memory) Layout() Layout { return m.layout }

// Len is the number of frames.
func (m *Memory) Len() console.Frame { return console.Frame(len(m.sights)) }

// Open starts at frame 0. It cannot fail.
func (m *Memory) Open() (Cursor, error) { return &memoryCursor{m: m}, nil }

type memoryCursor struct {
	m  *Memory
	at console.Frame
}

func (c *memoryCursor) Next(p *Picture) error {
	if c.at >= c.m.Len() {
		return io.EOF
	}
	*p = Picture{Frame: c.at, Sight: c.m.sights[c.at], Features: c.m.features[c.at]}
	c.at++
	return nil
}

func (c *memoryCursor) Seek(f console.Frame) error {
	if f < 0 {
		return fmt.Errorf("frame %d is before the first", f)
	}
	c.at = f
	return nil
}

func (c *memoryCursor) Close() error { return nil }
