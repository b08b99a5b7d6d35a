package judge

import (
	"slices"

	"latchproof/harness/lockstep"
)

// motion keeps how much pictures change, from each to the next and to the one
// after that, by block features (package lockstep). The change of a block is the
// sum of the squares over its six features. 12 bytes a picture.
type motion struct {
	last [2]lockstep.Features // of the two pictures before; nil: none
	one  []float32            // per picture: the change of all blocks from the picture before; -1: unknown
	most []float32            // the same of the block that changes most
	two  []float32            // as one, from the second picture before

	began bool // what follows is known
	first int  // picture of the run; -1: none
	fast  bool // two pictures may be of one frame
}

const (
	// Of around pairs on either side moving must move before one that stands
	// still means something; up to burst pictures in a row may stand.
	around = 8
	moving = 6
	burst  = 4
	beyond = around + burst + 1
	// ahead is how many pictures must be known, itself among them, before it is
	// said what a picture is.
	ahead = 32
	// moves is the least change of a block that is motion: four luma features by
	// 2.5 levels each, in squared quarter levels. A codec's own steps are less.
	moves = 4 * 10 * 10
	// alike is the most that a block may change in a picture that a codec made
	// anew of the one before: six features by half a level each.
	alike = 6 * 2 * 2
	// quiet is how many times less than in the quietest moving pair around it a
	// picture must change to be one that a codec made anew from a noisy one, where
	// it may change by more than alike, but not by as much as motion.
	quiet = 256
	// twice is how far apart the changes over one and over two pictures must be
	// to be told from one another.
	twice = 1.3
)

// add takes the features of the next picture; nil when it has none.
func (m *motion) add(f lockstep.Features) {
	k := len(m.one)
	m.one, m.two, m.most = append(m.one, -1), append(m.two, -1), append(m.most, -1)
	if f != nil && m.last[0] != nil {
		m.one[k], m.most[k] = compare(m.last[0], f)
	}
	if f != nil && m.last[1] != nil {
		m.two[k], _ = compare(m.last[1], f)
	}
	spare := m.last[1]
	m.last[1], m.last[0] = m.last[0], nil
	if f != nil {
		m.last[0] = append(spare[:0], f...)
	}
}

// compare gives the sum of the changes of all blocks, and the largest.
func compare(a, b lockstep.Features) (all, most float32) {
	var sum int64
	var top int32
	for len(a) >= 6 && len(b) >= 6 {
		d0, d1, d2 := int32(a[0])-int32(b[0]), int32(a[1])-int32(b[1]), int32(a[2])-int32(b[2])
		d3, d4, d5 := int32(a[3])-int32(b[3]), int32(a[4])-int32(b[4]), int32(a[5])-int32(b[5])
		d := d0*d0 + d1*d1 + d2*d2 + d3*d3 + d4*d4 + d5*d5
		sum += int64(d)
		top = max(top, d)
		a, b = a[6:], b[6:]
	}
	return float32(sum), float32(top)
}

// again counts the pictures from k on, which is followed by beyond more, that are
// the one before once more in the midst of motion: no block changes more than a
// codec makes it, most pairs around move, and the pair after them moves by two
// steps, as it must when pictures took the place of others. 0 when that cannot
// be said.
func (m *motion) again(k int) int {
	if k < around+2 || k+beyond > len(m.one) {
		return 0
	}
	still := m.stillness(k)
	if !still(k) || still(k-1) {
		return 0
	}
	end := k + 1
	for end < k+burst && still(end) {
		end++
	}
	p := m.pace(k, end)
	if p.before < moving || p.after < moving {
		return 0
	}
	m1, m2 := middle(p.ones), middle(p.twos)
	if x := m.one[end]; m2 < twice*m1 || x*x < m1*m2 {
		return 0
	}
	return end - k
}

// pace is how the pictures around some that stand still move.
type pace struct {
	ones, twos    []float32 // changes over one picture, where they move, and over two
	before, after int       // pairs that move, of the last before and the first after
}

// pace looks at up to around pairs before picture k and after picture end, which
// is the first that is not the one before once more. The step to it counts for
// nothing.
func (m *motion) pace(k, end int) pace {
	var p pace
	count := func(from, to int) (moved int) {
		for j := max(from, 1); j < min(to, len(m.one)); j++ {
			if m.most[j] >= moves {
				moved++
				p.ones = append(p.ones, m.one[j])
			}
			if m.two[j] >= 0 && (j < k || j-2 >= end) {
				p.twos = append(p.twos, m.two[j])
			}
		}
		return moved
	}
	p.before, p.after = count(k-around, k), count(end+1, end+1+around)
	return p
}

// stillness gives what tells whether a picture near k may be the one before it
// once more. Where some pair is equal throughout, the codec does not make repeats
// anew, and pictures that differ by their noise are not taken for any.
func (m *motion) stillness(k int) func(j int) bool {
	var least float32 = -1
	again := true // the codec makes what comes again anew
	for j := k - around; j < k+beyond; j++ {
		again = again && m.one[j] != 0
		if m.most[j] >= moves && (least < 0 || m.one[j] < least) {
			least = m.one[j]
		}
	}
	return func(j int) bool {
		return m.most[j] >= 0 && (m.most[j] <= alike || again && m.most[j] < moves && m.one[j]*quiet < least)
	}
}

// middle is the upper median of v, which is reordered; 0 for none.
func middle(v []float32) float32 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[len(v)/2]
}
