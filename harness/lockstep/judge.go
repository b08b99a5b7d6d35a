package lockstep

import (
	"image"

	"latchproof/specs/console"
)

const (
	// confirmFrames is how many of the next frames seen by both are asked to
	// confirm a difference; more than half of them must differ too.
	confirmFrames = 8
	// vanishFrames is how many of the last of those may at most not differ.
	vanishFrames = 3
	// burstFrames is the same when the difference looks like trouble of the
	// capture: bursts of it must pass by.
	burstFrames = 24
)

// found is a confirmed difference of the pictures.
type found struct {
	frame, since console.Frame
	from         console.Frame // where the comparison at this shift began
	sure         console.Frame // the first from there beyond the threshold
	region       image.Rectangle
	score        float64
	// flickers is how many suspects up to flickersTo it stands for; 0 otherwise.
	flickers   int
	flickersTo console.Frame
}

// judge takes the readings of the frames in order and finds the first that
// differs and is confirmed.
type judge struct {
	layout Layout
	// input is the first frame on which the consoles were given other buttons, or
	// past the end; cued says whether a difference that begins on a frame may
	// answer such a one.
	input console.Frame
	cued  func(console.Frame) bool
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
	// again counts suspects over all stretches of a comparison.
	again *flickers
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
			j.found = &found{frame: r.frame, sure: r.frame, since: j.lastSeen + 1, region: r.region(j.layout), score: r.score}
			return
		}
		if j.again != nil && !j.odd(r) {
			f := found{frame: r.frame, sure: r.frame, since: min(r.frame, j.lastSeen+1), region: r.region(j.layout), score: r.score}
			if j.found = j.again.add(f); j.found != nil {
				j.suspects = dropSuspects(j.suspects, j.found.frame)
				return
			}
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
	kin := false
	switch cued := j.cued != nil && j.cued(r.frame); {
	case cued && j.odd(r) && j.row() >= cueRow:
		r.troubled = false
		return true
	case cued && !j.odd(r) && len(r.over) > 0:
		return true
	}
	if j.odd(r) {
		// A thing that is one step behind looks torn, too: pictures that look
		// like no trouble tell, when they differ in the same place.
		n := 0
		var plain *reading
		apart := false // the runs agree on a picture before the plain one
		for _, q := range after {
			switch {
			case j.odd(q):
				n++
			case plain != nil:
			case q.differs():
				plain = q
			case len(q.faint) == 0:
				apart = true
			}
		}
		switch {
		case plain != nil && mostly(r.over, grown(plain.over, j.layout)) && (!apart || mostly(plain.over, grown(r.over, j.layout))):
			kin, r.troubled = true, false
		case plain != nil:
			return false
		default: // only a long row of them is no burst
			return 2*n > len(after) && n >= confirmFrames/2
		}
	}
	n, votes, voted := 0, 0, 0
	last := r.over
	for _, q := range after {
		if n == confirmFrames {
			break
		}
		if !kin && j.odd(q) {
			continue
		}
		n++
		still := grown(last, j.layout).in(q.faint)
		switch {
		case len(last) > 0 && len(still) > 0 && 2*len(grown(still, j.layout).in(last)) >= len(last):
			last, voted = still, n
			votes++
		case q.differs() && voted == n-1 && len(last) > 0: // it has moved on, without a pause
			last, voted = q.over, n
			votes++
		case r.whole > 1 && q.whole > steadyWeak:
			voted = n
			votes++
		}
	}
	if r.frame >= j.input {
		return votes > 0 || n == 0
	}
	// What has vanished again by then is confirmed by nothing.
	return 2*votes > n && (n < confirmFrames || n-voted < vanishFrames)
}

// hurtAfter is how many suspects a capture must have given for the first
// picture of a divergence to be held for one more.
const hurtAfter = 2

// hurt says whether a picture that differs, and is followed by one that does, is
// hurt besides: where it differs and that one does not, it looks like trouble.
// In a capture without any it is not asked.
func (j *judge) hurt(r, next *reading) bool {
	if len(j.suspects) < hurtAfter || !r.differs() || !next.differs() || len(next.over) == 0 || j.odd(next) {
		return false
	}
	place, alone := grown(next.over, j.layout), &reading{frame: r.frame}
	place.grow(next.faint, j.layout)
	for _, i := range r.over {
		if !place[i] {
			alone.over = append(alone.over, i)
		}
	}
	return len(alone.over) > 0 && j.trouble(alone)
}

// row is how many of the frames to be decided differ, from the oldest on without
// a pause.
func (j *judge) row() (n int) {
	for n < len(j.queue) && j.queue[n].differs() {
		n++
	}
	return n
}

// mostly says whether three quarters of the blocks lie in a place.
func mostly(blocks []int, p place) bool { return 4*len(p.in(blocks)) >= 3*len(blocks) }

const (
	// leapFrames is how far an encoder looks ahead: pictures coded from the ones
	// after them show a little of what is still to come. A difference that is no
	// more than leapScore times the threshold, and then leaps to more than
	// 1/leapRatio times as much, is such a foreboding. (x264 at crf 23 and 28 with
	// three pictures between showed up to 1.1 times the threshold, a sixth of
	// what followed.)
	leapFrames = 4
	leapScore  = 2
	leapRatio  = 0.4
)

// settle fixes the first frame: it looks back from the confirmed one for as
// long as the same place already differed, by the weaker threshold, and then
// ahead for what only foreboded it.
func (j *judge) settle(r *reading) {
	all := append(append([]*reading(nil), j.past...), j.queue...)
	at := len(j.past)
	place := grown(r.over, j.layout)
	for i := at - 1; i >= 0; i-- {
		p := all[i]
		over := place.in(p.faint)
		if p.troubled && !mostly(p.over, place) || len(over) == 0 && (r.whole <= 1 || p.whole <= steadyWeak) {
			break
		}
		if len(over) > 0 { // a thing that moves takes the place along
			place = grown(over, j.layout)
		}
		at = i
	}
	place = grown(r.over, j.layout)
	for _, p := range all[at:len(j.past)] {
		place.grow(place.in(p.faint), j.layout)
	}
	for i := at; i < min(len(j.past)+leapFrames, len(all)-1); i++ {
		now, next := all[i].amplitude(place), all[i+1].amplitude(place)
		if now > leapScore || all[i].whole > 1 {
			break
		}
		if now < leapRatio*next && all[i+1].differs() && !j.odd(all[i+1]) {
			at = i + 1
		}
	}
	hurt := all[at]
	if at+1 < len(all) && j.hurt(hurt, all[at+1]) {
		at++
	}
	p := all[at]
	f := &found{frame: p.frame, since: p.frame, sure: p.frame, score: p.score}
	for i := at; i <= len(j.past) && !all[i].differs(); i++ {
		f.sure = all[i+1].frame
	}
	switch over := place.in(p.faint); {
	case p.differs():
		f.region = p.region(j.layout)
	default:
		f.region = bounds(over, j.layout)
	}
	switch {
	case at == len(j.past):
		f.since = min(f.frame, j.lastSeen+1)
	case at > 0:
		f.since = all[at-1].frame + 1
	}
	if hurt != p {
		f.since = min(f.since, hurt.frame)
	}
	j.found = f
	j.suspects = dropSuspects(j.suspects, f.frame)
}
