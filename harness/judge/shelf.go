package judge

import (
	"context"
	"errors"

	"latchproof/vision/screen"
)

// Shelf gives the kept picture of a capture index, on the console's raster; nil
// when it is not at hand. Its errors end the watching.
type Shelf func(k int) (*screen.Screen, error)

// source is where the pictures of a capture come from, in order.
type source interface {
	// run hands the wanted pictures of the file from number from on to see; want
	// is nil for all. An error of see ends it; errEnough without an error.
	run(ctx context.Context, from int, want func(picture int) bool, see func(shot) error) error
	// recycle takes a screen back that nobody holds. It may be nil.
	recycle(s *screen.Screen)
}

// shelf is a source without a video.
type shelf struct {
	take Shelf
	rows int // capture pictures
	per  int // of them in one picture of the file
}

func (s shelf) run(ctx context.Context, from int, want func(picture int) bool, see func(shot) error) error {
	for i := from; i < (s.rows+s.per-1)/s.per; i++ {
		if want != nil && !want(i) {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		var before *screen.Screen
		for k := i * s.per; k < min((i+1)*s.per, s.rows); k++ {
			pic, err := s.take(k)
			if err != nil {
				return err
			}
			if before == nil && k > 0 && pic != nil {
				if before, err = s.take(k - 1); err != nil {
					return err
				}
			}
			p := shot{k: k, s: pic, away: pic == nil, equal: pic != nil && before != nil && screen.Equal(pic, before)}
			if err := see(p); errors.Is(err, errEnough) {
				return nil
			} else if err != nil {
				return err
			}
			before = nil
		}
	}
	return nil
}

func (shelf) recycle(*screen.Screen) {}
