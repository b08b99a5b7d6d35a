package lockstep

import (
	"slices"

	"latchproof/specs/console"
)

const (
	// answerFrames is how many frames after a read its answer may show at the
	// latest: a game draws what it read in the same frame, the next or the one
	// after (common practice, no source).
	answerFrames = 2
	// cueRow is how many pictures in a row must differ from a cue on, for it not
	// to be trouble that came by chance.
	cueRow = 3
)

// cues are the frames from which on two consoles were given other buttons, or
// others again: where the pictures may part by the input. In rising order.
type cues []console.Frame

// cuesOf finds them from a frame on, as far as both logs reach. What a console
// was given holds until its next read. Without both logs there are none.
func cuesOf(a, b Run, start console.Frame) (out cues) {
	x, y := a.Reads, b.Reads
	if len(x) == 0 || len(y) == 0 {
		return nil
	}
	end := min(x[len(x)-1].Frame, y[len(y)-1].Frame)
	var held, before [2]ReadInfo
	apart := false
	for len(x) > 0 && len(y) > 0 {
		f := min(x[0].Frame, y[0].Frame)
		if f > end {
			break
		}
		inA, inB := inFrame(x, f), inFrame(y, f)
		now := len(inA) == len(inB) && !slices.EqualFunc(inA, inB, sameInput)
		if len(inA) > 0 {
			held[0] = inA[len(inA)-1]
		}
		if len(inB) > 0 {
			held[1] = inB[len(inB)-1]
		}
		now = now || !sameInput(held[0], held[1])
		if now && f >= start && (!apart || !sameInput(held[0], before[0]) || !sameInput(held[1], before[1])) {
			out = append(out, f)
		}
		apart, before = now, held
		x, y = x[len(inA):], y[len(inB):]
	}
	return out
}

// sameInput says whether a console got the same from two reads. What was served
// for want of data counts by what it was; several latch pulses, with clock
// pulses after the last or after each, give the same again.
func sameInput(x, y ReadInfo) bool {
	return x.State == y.State && sameClocks(x, y, x.Clocks, y.Clocks) && sameClocks(x, y, x.Clocks2, y.Clocks2)
}

func sameClocks(x, y ReadInfo, n, k uint8) bool {
	return n == k || int(n)*y.Pulses == int(k)*x.Pulses
}

// first is the first frame on which the input differs, past the end when none.
func (c cues) first() console.Frame {
	if len(c) == 0 {
		return 1 << 62
	}
	return c[0]
}

// near says whether what is new on a frame may answer a cue.
func (c cues) near(f console.Frame) bool {
	i, _ := slices.BinarySearch(c, f-answerFrames)
	return i < len(c) && c[i] <= f
}
