package lockstep

import (
	"fmt"

	"latchproof/specs/console"
)

const (
	// A picture with nothing on it has luma means that lie at most blankRange
	// apart, with a standard deviation of at most blankSpread: more than noise
	// does, and less than one small figure.
	blankRange  = 40 / Unit
	blankSpread = 5 / Unit
	// blankFrames is how many pictures in a row must be blank in one run alone
	// for it to be taken for a lost signal. A console's own black between two
	// scenes, early or late by a few frames, is shorter and is a difference.
	blankFrames = 12
)

// blank says whether nothing is to be seen on a picture: one level throughout.
func blank(f Features) bool {
	lo, hi := f[0], f[0]
	var sum, squares, n int64
	for i := 0; i+perBlock <= len(f); i += perBlock {
		for _, v := range f[i : i+4] {
			lo, hi = min(lo, v), max(hi, v)
			d := int64(v) - int64(f[0])
			sum += d
			squares += d * d
		}
		n += 4
		if hi-lo > blankRange {
			return false
		}
	}
	return squares*n-sum*sum <= blankSpread*blankSpread*n*n
}

// blankTo is for a difference on a frame: when one run alone shows nothing there,
// and one alone does so for blankFrames pictures, or for all that are left, until
// both show something, it gives the first frame after that and which run began. A
// picture that was as empty before is a scene, and none of this. Whether the console's screen was
// empty or the card had no signal is not to be seen, so nothing is said of
// these frames.
func (c *comparison) blankTo(from, last console.Frame) (to console.Frame, run int, ok bool) {
	run = -1
	n := 0
	alone := console.Frame(-1) // the last frame where one run alone shows nothing, none agreeing since
	for to = from; to <= last; to++ {
		a, b := c.album[0].at(to), c.album[1].at(to)
		if len(a) == 0 || len(b) == 0 {
			continue
		}
		empty := [2]bool{blank(a), blank(b)}
		if run < 0 {
			if empty[0] == empty[1] {
				return 0, 0, false
			}
			if empty[1] {
				run = 1
			} else {
				run = 0
			}
			if c.emptyBefore(run, from) {
				return 0, 0, false // a scene of its own
			}
		}
		if !empty[0] && !empty[1] {
			break
		}
		switch {
		case empty[0] == empty[1]:
			alone = -1
		case alone >= 0:
			n += int(to - alone) // with what was not seen between
			alone = to
		default:
			n++
			alone = to
		}
	}
	return to, run, run >= 0 && (n >= blankFrames || to > last)
}

// emptyBefore says whether a run showed nothing on the last frame before that
// both saw. What one alone showed there tells nothing.
func (c *comparison) emptyBefore(run int, f console.Frame) bool {
	for t := f - 1; t >= max(0, f-MaxShift); t-- {
		both := [2]Features{c.album[0].at(t), c.album[1].at(t)}
		if len(both[0]) > 0 && len(both[1]) > 0 {
			return blank(both[run])
		}
	}
	return false
}

func blankWarning(name string, from, to, last console.Frame) string {
	if to > last {
		return fmt.Sprintf("%s shows nothing from frame %d to the end: the signal was lost or the console's screen was empty, so nothing is said of these frames", name, from)
	}
	return fmt.Sprintf("%s shows nothing from frame %d to %d: the signal was lost or the console's screen was empty, so nothing is said of these frames", name, from, to-1)
}
