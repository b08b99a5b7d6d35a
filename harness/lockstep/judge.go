package lockstep

import (
	"image"

	"latchproof/specs/console"
)

const (
	// confirmFrames is how many of the next frames seen by both are asked to
	// confirm a difference; more than half of them must differ too.
	confirmFrames = 8
	// burstFrames is the same when the difference looks like trouble of the
	// capture: bursts of it must pass by.
	burstFrames = 24
)

// found is a confirmed difference of the pictures.
type found struct {
	frame, since console.Frame
	region       image.Rectangle
	score        float64
	// troubled: every picture that differs looks like trouble of the capture.
	troubled bool
}

// judge takes the readings of the frames in order and finds the first that
// differs and is confirmed.
type judge struct {
	layout Layout
	// input is the first frame where the read logs differ, or past the end.
	input console.Frame
	// trouble says whether a picture that differs looks like trouble of the
	// capture: torn, given again, or damaged.
	trouble func(*reading) bool
	// shifted says whether a difference that is not confirmed begins a shift in
	// a scene that hardly moves.
	shifted  func(*reading) bool
	past     []*reading // frames decided to be equal, the last few
	queue    []*reading // frames not decided yet
	free     []*reading
	lastSeen console.Frame // the last frame decided to be equal
	found    *found
	suspects []Suspect
}

func (j *judge) spare() *reading {
	if n := len(j.free); n > 0 {
		r := j.free[n-1]
		j.free = j.free[:n-1]
		r.asked, r.troubled = false, false
		return r
	}
	return new(reading)
}

func (j *judge) push(r *reading) {
	j.queue = append(j.queue, r)
	if len(j.queue) > burstFrames {
		j.decide()
	}
}

func (j *judge) finish() {
	for j.found == nil && len(j.queue) > 0 {
		j.decide()
	}
}

// odd asks once whether a picture that differs looks like trouble.
func (j *judge) odd(r *reading) bool {
	if !r.asked {
		r.asked, r.troubled = true, r.differs() && j.trouble(r)
	}
	return r.troubled
}

// decide settles the oldest frame of the queue by those after it.
func (j *judge) decide() {
	r := j.queue[0]
	if r.differs() {
		if j.confirmed(r) {
			j.settle(r)
			return
		}
		j.suspects = append(j.suspects, Suspect{Kind: KindFlicker, Frame: r.frame, Region: r.region(j.layout), Score: r.score})
		if j.shifted(r) {
			j.suspects = j.suspects[:len(j.suspects)-1]
			j.found = &found{frame: r.frame, since: j.lastSeen + 1, region: r.region(j.layout), score: r.score}
			return
		}
	} else {
		j.lastSeen = r.frame
	}
	j.queue = j.queue[1:]
	j.past = append(j.past, r)
	if len(j.past) > confirmFrames {
		j.free = append(j.free, j.past[0])
		j.past = j.past[1:]
	}
}

// confirmed says whether the frames after r confirm that the runs part at it.
func (j *judge) confirmed(r *reading) bool {
	after := j.queue[1:]
	kin := j.odd(r) && j.kin(r, after[:min(len(after), confirmFrames/2)])
	if kin {
		r.troubled = false
	}
	if j.odd(r) {
		// Only a long row of such pictures is no burst.
		n := 0
		for _, q := range after {
			if j.odd(q) {
				n++
			}
		}
		return 2*n > len(after) && n >= confirmFrames/2
	}
	if r.frame >= j.input {
		return true
	}
	n, votes := 0, 0
	place := grown(r.over, j.layout)
	for _, q := range after {
		if n == confirmFrames {
			break
		}
		if !kin && j.odd(q) {
			continue
		}
		n++
		still := place.in(q.faint)
		if q.differs() || len(still) > 0 || r.whole > 1 && q.whole > steadyWeak {
			votes++
			place.grow(still, j.layout)
		}
	}
	return 2*votes > n
}

// kin says whether a picture that looks like trouble differs where the next
// ones do, and hardly anywhere else: a thing that is one step behind looks torn,
// too. One of them that looks like no trouble is enough, else most must agree.
func (j *judge) kin(r *reading, after []*reading) bool {
	n := 0
	for _, q := range after {
		if !q.differs() || !mostly(r.over, grown(q.over, j.layout)) {
			continue
		}
		if n++; !j.odd(q) {
			return true
		}
	}
	return n >= 3
}

// mostly says whether three quarters of the blocks lie in a place.
func mostly(blocks []int, p place) bool { return 4*len(p.in(blocks)) >= 3*len(blocks) }

// settle fixes the first frame: it looks back from the confirmed one for as
// long as the same place already differed, by the weaker threshold.
func (j *judge) settle(r *reading) {
	f := &found{frame: r.frame, since: j.lastSeen + 1, region: r.region(j.layout), score: r.score, troubled: j.odd(r)}
	place := grown(r.over, j.layout)
	for i := len(j.past) - 1; i >= 0; i-- {
		p := j.past[i]
		over := place.in(p.faint)
		switch {
		case p.troubled && !mostly(p.over, place):
			i = 0
			continue
		case p.differs():
			place.grow(p.over, j.layout)
			f.region = p.region(j.layout)
		case len(over) > 0:
			place.grow(over, j.layout)
			f.region = bounds(over, j.layout)
		case r.whole > 1 && p.whole > steadyWeak:
		default:
			i = 0
			continue
		}
		f.frame, f.score = p.frame, p.score
		f.since = p.frame
		if i > 0 {
			f.since = j.past[i-1].frame + 1
		}
	}
	j.found = f
	for n := len(j.suspects); n > 0 && j.suspects[n-1].Frame >= f.frame; n = len(j.suspects) {
		j.suspects = j.suspects[:n-1]
	}
}
