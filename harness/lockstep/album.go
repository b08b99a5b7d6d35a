package lockstep

import (
	"errors"
	"fmt"
	"io"

	"latchproof/specs/console"
)

// albumSize is how many pictures an album keeps: MaxShift either way and some.
const albumSize = 2*MaxShift + 80

// album gives the pictures of a run by their frames, for looking at the
// neighbours of a frame that differs. It keeps the last albumSize.
type album struct {
	run     Run
	cur     Cursor
	next    console.Frame // that the cursor gives next
	frame   [albumSize]console.Frame
	picture [albumSize]Features // empty when not seen
	// moved caches whether a picture differs from the one before: 0 not asked
	// yet, 1 no, 2 yes.
	moved [albumSize]uint8
	err   error
}

func newAlbum(r Run) *album {
	b := &album{run: r}
	for i := range b.frame {
		b.frame[i] = -1
	}
	return b
}

// at is the picture of a frame; empty when the run did not see it for sure. It
// is valid until albumSize later frames were asked for. An error stays and is
// kept in err.
func (b *album) at(f console.Frame) Features {
	if f < 0 || f > b.run.last() || b.err != nil {
		return nil
	}
	slot := f % albumSize
	if b.frame[slot] == f {
		return b.picture[slot]
	}
	if b.cur == nil {
		if b.cur, b.err = b.run.Trace.Open(); b.err != nil {
			return nil
		}
	}
	// Reading on is cheaper than going back and unpacking a chunk again.
	from := f
	if b.next <= f && f-b.next < albumSize {
		from = b.next
	}
	if from != b.next {
		if b.err = b.cur.Seek(from); b.err != nil {
			return nil
		}
		b.next = from
	}
	for b.next <= f {
		var p Picture
		err := b.cur.Next(&p)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			b.err = fmt.Errorf("%s: %w", b.run.Name, err)
			return nil
		}
		s := b.next % albumSize
		b.frame[s], b.moved[s] = b.next, 0
		b.picture[s] = b.picture[s][:0]
		if p.Sight == Seen {
			b.picture[s] = append(b.picture[s], p.Features...)
		}
		b.next++
	}
	return b.picture[slot]
}

// near is the picture of the first frame seen from f on in steps of dir, at
// most three away.
func (b *album) near(f, dir console.Frame) Features {
	for range 3 {
		if p := b.at(f); len(p) > 0 {
			return p
		}
		f += dir
	}
	return nil
}

func (b *album) close() {
	if b.cur != nil {
		b.cur.Close()
	}
}
