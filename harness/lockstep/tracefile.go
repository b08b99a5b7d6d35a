package lockstep

import (
	"encoding/binary"
	"fmt"
	"io"
	"os"

	"latchproof/specs/console"
)

// TraceFile is a trace on disk. Cursors read one chunk of 64 frames at a time,
// and several may be open at once.
type TraceFile struct {
	name   string
	r      io.ReaderAt
	close  func() error
	layout Layout
	frames console.Frame
	chunks []chunkPlace
}

type chunkPlace struct {
	at     int64 // of its head
	first  int64
	frames int
	packed int
}

// OpenTrace opens a trace file and checks its structure; the pictures are
// checked as they are read. Errors are *TraceError (ErrTrace) or those of the
// system.
func OpenTrace(path string) (*TraceFile, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, err
	}
	t, err := ReadTrace(path, f, info.Size())
	if err != nil {
		f.Close()
		return nil, err
	}
	t.close = f.Close
	return t, nil
}

// ReadTrace is OpenTrace for anything that can be read at offsets; name is used
// in errors and size is in bytes.
func ReadTrace(name string, r io.ReaderAt, size int64) (*TraceFile, error) {
	t := &TraceFile{name: name, r: r, close: func() error { return nil }}
	head, err := t.read(0, headSize)
	if err != nil {
		return nil, err
	}
	if string(head[:8]) != magic {
		return nil, t.fail(0, "not a trace file")
	}
	le := binary.LittleEndian
	if le.Uint32(head[headSize-4:]) != checksum(head[:headSize-4]) {
		return nil, t.fail(0, "checksum of the head differs")
	}
	if v := le.Uint16(head[8:]); v != FormatVersion {
		return nil, t.fail(8, fmt.Sprintf("format version %d, this is %d", v, FormatVersion))
	}
	if v := le.Uint16(head[10:]); v != FeatureVersion {
		return nil, t.fail(10, fmt.Sprintf("feature version %d, this is %d", v, FeatureVersion))
	}
	t.layout = Layout{int(le.Uint16(head[12:])), int(le.Uint16(head[14:]))}
	if !t.layout.valid() {
		return nil, t.fail(12, fmt.Sprintf("raster %dx%d: sides must be 1..%d", t.layout.W, t.layout.H, maxSide))
	}
	at := int64(headSize)
	for {
		mark, err := t.read(at, endSize)
		if err != nil {
			return nil, err
		}
		switch le.Uint32(mark) {
		case endMagic:
			if le.Uint32(mark[endSize-4:]) != checksum(mark[:endSize-4]) {
				return nil, t.fail(at, "checksum of the end mark differs")
			}
			if n := int64(le.Uint64(mark[4:])); n != int64(t.frames) {
				return nil, t.fail(at, fmt.Sprintf("the end mark says %d frames, the chunks have %d", n, t.frames))
			}
			if at+endSize != size {
				return nil, t.fail(at+endSize, "text after the end mark")
			}
			return t, nil
		case chunkMagic:
		default:
			return nil, t.fail(at, "neither a chunk nor the end mark")
		}
		h, err := t.read(at, chunkSize)
		if err != nil {
			return nil, err
		}
		c := chunkPlace{at: at, first: int64(le.Uint64(h[4:])), frames: int(le.Uint32(h[12:])), packed: int(le.Uint32(h[16:]))}
		if c.first != int64(t.frames) || c.frames < 1 || c.frames > chunkFrames {
			return nil, t.fail(at, fmt.Sprintf("chunk of %d frames from frame %d, want up to %d from frame %d", c.frames, c.first, chunkFrames, t.frames))
		}
		if n := len(t.chunks); n > 0 && t.chunks[n-1].frames < chunkFrames {
			return nil, t.fail(at, "a chunk follows one that is not full")
		}
		if at+chunkSize+int64(c.packed)+endSize > size {
			return nil, t.fail(size, "the file is cut off")
		}
		t.chunks = append(t.chunks, c)
		t.frames += console.Frame(c.frames)
		at += chunkSize + int64(c.packed)
	}
}

func (t *TraceFile) fail(at int64, problem string) error {
	return &TraceError{File: t.name, Offset: at, Problem: problem}
}

func (t *TraceFile) read(at int64, n int) ([]byte, error) {
	b := make([]byte, n)
	got, err := t.r.ReadAt(b, at)
	if got == n {
		return b, nil
	}
	if err == io.EOF {
		return nil, t.fail(at+int64(got), "the file is cut off")
	}
	return nil, err
}

// Layout is the raster.
func (t *TraceFile) Layout() Layout { return t.layout }

// Len is the number of frames.
func (t *TraceFile) Len() console.Frame { return t.frames }

// Close closes the file; cursors are of no use afterwards.
func (t *TraceFile) Close() error { return t.close() }

// Open starts at frame 0. It cannot fail.
func (t *TraceFile) Open() (Cursor, error) { return &fileCursor{t: t}, nil }
