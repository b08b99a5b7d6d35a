package live

import (
	"context"
	"image"
	"sync"
	"time"
)

// script is a source made up by the tests: what Next gives, one after the other,
// and then nothing until the context ends.
type script struct {
	info  Info
	steps []any         // Buffer or error
	gate  chan struct{} // nil: all at once; otherwise each step waits for a value
	mu    sync.Mutex
	done  chan struct{} // closed when the last step was taken
}

func newScript(format Format, size image.Point, steps ...any) *script {
	return &script{info: Info{Name: "made-up card", Format: format, Size: size, Rate: 100}, steps: steps, done: make(chan struct{})}
}

func (s *script) Info() Info { return s.info }

func (s *script) Next(ctx context.Context) (Buffer, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.steps) == 0 {
		select {
		case <-s.done:
		default:
			close(s.done)
		}
		<-ctx.Done()
		return Buffer{}, ctx.Err()
	}
	if s.gate != nil {
		select {
		case <-s.gate:
		case <-ctx.Done():
			return Buffer{}, ctx.Err()
		}
	}
	next := s.steps[0]
	s.steps = s.steps[1:]
	if err, ok := next.(error); ok {
		return Buffer{}, err
	}
	return next.(Buffer), nil
}

func (s *script) Close() error { return nil }

// kept is a file that keeps what it is given, waits at its gate, and fails when
// told.
type kept struct {
	mu    sync.Mutex
	all   []string
	at    []time.Duration
	gate  chan struct{} // nil: never waits
	after int           // fails at that picture; 0: never
	err   error
	shut  bool
}

func (k *kept) Write(b Buffer, at time.Duration) error {
	if k.gate != nil {
		<-k.gate
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.after > 0 && len(k.all) >= k.after {
		return k.err
	}
	k.all, k.at = append(k.all, string(b.Data)), append(k.at, at)
	return nil
}

func (k *kept) Close() error { k.shut = true; return nil }

// seen is picture n of a card that counts and stamps 100 pictures a second.
func seen(n int, data string) Buffer {
	return Buffer{Data: []byte(data), Format: MJPEG, Seq: uint64(n), Flags: HasSeq, Stamp: time.Duration(n) * 10 * time.Millisecond}
}
