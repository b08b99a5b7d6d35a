package calibrate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"latchproof/harness/judge"
	"latchproof/specs/program"
)

// bound is what one picture says of the latency: that it is at most, or more
// than, at. Frames.
type bound struct {
	at   float64
	most bool // at most; otherwise more than
}

// latency is what a check found out about the card's latency.
type latency struct {
	presses, answered, muddled int
	bounds                     []bound // by answers
	fine                       int     // pairs of pictures that narrowed it
	lo, hi                     float64 // frames; what the fewest bounds contradict
	against                    int     // those that do
	err                        float64 // frames, the middle error of a place
	ok                         bool
}

const (
	longest = 31 // frames in which an answer is looked for: half a second
	stays   = 2  // of the next pictures that must show the answer too
)

// answers brackets the latency by the answers to presses. A picture of frame n is
// stamped no earlier than n's start and the latency, and earlier than n+1's start
// and the latency. The first picture with the answer is of frame A or later, so
// the latency is at most its place less A; the last without it is of a frame
// before A, so the latency is more than its place less A.
func (a *album) answers(reads []program.Read, answerFrames int) (l latency) {
	var calm, pressed []*take
	for _, t := range a.takes {
		if t.press {
			pressed = append(pressed, t)
		} else {
			calm = append(calm, t)
		}
	}
	var errs []float64
	for _, t := range pressed {
		for _, r := range reads {
			f, ok := t.fit.FrameOfRead(r)
			if !ok {
				continue
			}
			l.presses++
			at := float64(f) + float64(answerFrames-1)
			last, first := math.Inf(-1), math.Inf(1)
			var lastErr, firstErr float64
			muddled := false
			after := 0
			t.around(at+longest/2, longest/2+2, func(s *shot) {
				if after > stays || muddled {
					return
				}
				d, covered := nearest(s, calm, nil)
				switch {
				case d <= a.limit && after == 0:
					last, lastErr = s.u, s.err
				case d <= a.limit: // it went away again: no answer
					muddled = muddled || after <= stays
				case !covered:
				case s.u <= at:
					muddled = true // an earlier press is still seen
				default:
					if after == 0 {
						first, firstErr = s.u, s.err
					}
					after++
				}
			})
			switch {
			case muddled:
				l.muddled++
			case after > stays && !math.IsInf(last, -1):
				l.answered++
				l.bounds = append(l.bounds, bound{first - at + firstErr, true}, bound{last - at - lastErr, false})
				errs = append(errs, firstErr, lastErr)
			}
		}
	}
	l.err = quantile(errs, 0.5)
	if l.answered > 0 {
		l.lo, l.hi, l.against = settle(l.bounds)
		l.ok = l.hi > l.lo
	}
	return l
}

// settle finds where the latency must be for the fewest bounds to be wrong, and
// how many are.
func settle(bounds []bound) (lo, hi float64, wrong int) {
	b := slices.Clone(bounds)
	slices.SortFunc(b, func(x, y bound) int {
		switch {
		case x.at < y.at:
			return -1
		case x.at > y.at:
			return 1
		}
		return 0
	})
	now := 0 // wrong ones for a latency below all
	for _, x := range b {
		if !x.most {
			now++
		}
	}
	wrong = math.MaxInt
	for i := 0; i+1 < len(b); i++ {
		if b[i].most {
			now++
		} else {
			now--
		}
		if now < wrong && b[i+1].at > b[i].at {
			wrong, lo, hi = now, b[i].at, b[i+1].at
		}
	}
	return lo, hi, wrong
}

// arcs are the bins of a circle one frame around, for the part of the latency
// that is no whole frame.
const arcs = 8192

// ring counts what contradicts each part of a frame.
type ring [arcs + 1]int

// add counts one more against the arc from x to x+w, 0 <= w < 1; frames. The arc
// is cut to whole bins.
func (r *ring) add(x, w float64) {
	from, to := int(math.Ceil(x*arcs)), int(math.Floor((x+w)*arcs))
	if to <= from {
		return
	}
	n := to - from
	from = ((from % arcs) + arcs) % arcs
	for n > 0 {
		step := min(n, arcs-from)
		r[from]++
		r[from+step]--
		from, n = 0, n-step
	}
}

// sum gives the counts themselves.
func (r *ring) sum() (out [arcs]int) {
	n := 0
	for i := range out {
		n += r[i]
		out[i] = n
	}
	return out
}

// refine narrows the latency by pictures of runs of the same program. Two of them
// less than a frame apart show different pictures when a frame begins between
// them, and the same when none does, provided that the frame differs from the one
// before and the one after. Frames begin at whole frames and the latency, so each
// pair says where in a frame the latency's fraction lies, or does not; the answers
// say which of these places it is.
func (a *album) refine(l *latency) {
	if !l.ok {
		return
	}
	var against ring
	for i, t := range a.takes {
		for _, o := range a.takes[:i] {
			if slices.Equal(o.fit.LagFrames(), t.fit.LagFrames()) {
				l.fine += a.pairs(t, o, &against)
			}
		}
	}
	if l.fine == 0 {
		return
	}
	sums := against.sum()
	from, to := int(math.Floor(l.lo*arcs)), int(math.Ceil(l.hi*arcs))
	least := math.MaxInt
	for b := from; b < to; b++ {
		least = min(least, sums[((b%arcs)+arcs)%arcs])
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for b := from; b < to; b++ {
		if sums[((b%arcs)+arcs)%arcs] == least {
			lo, hi = min(lo, float64(b)/arcs), max(hi, float64(b+1)/arcs)
		}
	}
	l.lo, l.hi = max(l.lo, lo), min(l.hi, hi)
	l.against += least
}

// pairs holds the pictures of one run against those of another.
func (a *album) pairs(t, o *take, against *ring) (n int) {
	for i := 1; i+1 < len(t.shots); i++ {
		s := &t.shots[i]
		if s.bad || s.f == nil || s.flat || s.u < 0 || s.u >= t.parts || t.press != o.press && s.u >= a.first {
			continue
		}
		before, after := &t.shots[i-1], &t.shots[i+1]
		alone := !before.bad && !after.bad && before.f != nil && after.f != nil &&
			distance(s, before) > 2*a.limit && distance(s, after) > 2*a.limit
		if !alone {
			continue
		}
		o.around(s.u, 1, func(r *shot) {
			x, y := s, r
			if x.u > y.u {
				x, y = y, x
			}
			switch d := distance(s, r); {
			case d <= a.limit:
				against.add(x.u+x.err, y.u-x.u-x.err-y.err)
				n++
			case d > 2*a.limit:
				from, to := x.u-x.err, y.u+y.err
				against.add(to, 1-(to-from))
				n++
			}
		})
	}
	return n
}

// times gives the latency and its half width; period in seconds. The half width
// is never less than the middle error of a picture's place.
func (l latency) times(period float64) (mid, half time.Duration) {
	m := (l.lo + l.hi) / 2 * period
	h := max((l.hi-l.lo)/2, l.err) * period
	return time.Duration(math.Round(m * 1e9)), time.Duration(math.Ceil(h * 1e9))
}

// tellLatency adds the findings about the latency.
func (c *check) tellLatency(l latency, period float64) {
	const again = "play a program in which a marked press shows at once and in many pixels, and in which the scene before is the same with and without it"
	if !l.ok {
		v := Look
		if c.o.Bench.Describe().LatencyHalf > 0 && l.presses == 0 {
			v = Untold
		}
		c.report.add("latency", v, again, "none of %d presses has an answer that could be dated (%d still showed the press before)", l.presses, l.muddled)
		return
	}
	mid, half := l.times(period)
	c.latency = [2]time.Duration{mid, half}
	game := "the answer is taken to be in the picture of the read's own frame"
	if n := c.o.AnswerFrames; n > 1 {
		game = fmt.Sprintf("the game is taken to answer %d frames after the read's own", n-1)
	}
	text := fmt.Sprintf("%s ± %s by %d of %d answers and %d pairs of pictures; %s", ms(mid), ms(half), l.answered, l.presses, l.fine, game)
	switch {
	case float64(half) > 0.45*period*1e9:
		c.report.add("latency", Cannot, "this is no better than half a frame: play more repeats (--repeats) or a program with more answers", "%s", text)
		return
	case half > 2*time.Millisecond:
		c.report.add("latency", Look, "pictures nearer than that to a frame boundary stand for no frame: play more repeats (--repeats) or a program with more answers", "%s", text)
	default:
		c.report.add("latency", OK, "", "%s", text)
	}
	share := float64(l.against) / float64(len(l.bounds)+l.fine)
	c.report.add("latency.steady", lookIf(l.against >= 3 && share > 0.02),
		"the card's delay is not the same from picture to picture: fix its mode and buffering, and use no hub or splitter that converts the picture",
		"%d of %d bounds contradict it", l.against, len(l.bounds)+l.fine)
	if was := c.info.LatencyHalf; was > 0 {
		off := (mid - c.info.Latency).Abs()
		c.report.add("latency.changed", lookIf(off > half+was),
			"the bench's calibration no longer holds: write the new one into the bench file (--write), and look for what was changed",
			"the bench says %s ± %s, which is %s off", ms(c.info.Latency), ms(was), ms(off))
	}
}

func ms(d time.Duration) string { return fmt.Sprintf("%.2f ms", float64(d)/1e6) }

// instantsPer is how many shots a picture of the file is.
func instantsPer(f judge.Fields) int {
	if f.Woven() {
		return 2
	}
	return 1
}
