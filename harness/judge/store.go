package judge

import (
	"errors"
	"fmt"
	"os"

	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// Store keeps the screens of one run in a temporary file as JPEG pictures, so
// that the pictures around a divergence, which is known only after the runs
// are compared, can be shown without decoding the video again. The pictures
// are for the eye: comparing uses the trace, judging the screens themselves.
type Store struct {
	file  *os.File
	index map[console.Frame]span
	end   int64
	img   *vision.Image
	bgr   []byte
}

type span struct{ off, len int64 }

// NewStore makes an empty store in the folder dir.
func NewStore(dir string) (*Store, error) {
	f, err := os.CreateTemp(dir, "screens-*.tmp")
	if err != nil {
		return nil, fmt.Errorf("screen store: %w", err)
	}
	// Nameless from now on: nothing is left behind, however the process ends.
	if err := os.Remove(f.Name()); err != nil {
		return nil, errors.Join(fmt.Errorf("screen store: %w", err), f.Close())
	}
	return &Store{file: f, index: map[console.Frame]span{}, img: vision.NewImage()}, nil
}

// Put keeps the screen of a frame.
func (st *Store) Put(f console.Frame, s *screen.Screen) error {
	st.bgr = s.BGR(st.bgr)
	if err := st.img.SetBGR(s.W, s.H, st.bgr); err != nil {
		return fmt.Errorf("screen store: %w", err)
	}
	b, err := st.img.JPEG(95)
	if err != nil {
		return fmt.Errorf("screen store: %w", err)
	}
	if _, err := st.file.WriteAt(b, st.end); err != nil {
		return fmt.Errorf("screen store: %w", err)
	}
	st.index[f] = span{st.end, int64(len(b))}
	st.end += int64(len(b))
	return nil
}

// JPEG gives the kept picture of a frame, or ErrUnseen.
func (st *Store) JPEG(f console.Frame) ([]byte, error) {
	sp, ok := st.index[f]
	if !ok {
		return nil, fmt.Errorf("frame %d: %w", f, ErrUnseen)
	}
	b := make([]byte, sp.len)
	if _, err := st.file.ReadAt(b, sp.off); err != nil {
		return nil, fmt.Errorf("screen store: %w", err)
	}
	return b, nil
}

// Close frees the store.
func (st *Store) Close() error { return errors.Join(st.img.Close(), st.file.Close()) }
