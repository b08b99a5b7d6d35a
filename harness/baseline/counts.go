package baseline

import (
	"fmt"

	"latchproof/harness/stats"
)

// counts are runs with a trouble, k of n, and those of which it is not known;
// each of the baseline and of the candidate.
type counts struct {
	k, n, unknown [2]int64
	what          string
}

// words says what was seen of a side.
func (c *counts) words(side int) string {
	s := fmt.Sprintf("%d of %d %s", c.k[side], c.n[side], c.what)
	if u := c.unknown[side]; u > 0 {
		s += fmt.Sprintf(", %d not known", u)
	}
	return s
}

// test gives the chance of so many troubled candidate runs when nothing has
// changed, the smallest that could have come out with as many troubled runs in
// all, and the upper limit of the difference of rates.
func (c *counts) test(o Options) (p, least, limit float64, err error) {
	p, least = 1, 1
	if c.n[0] > 0 && c.n[1] > 0 {
		f, err := stats.FisherExact(c.k[1], c.n[1], c.k[0], c.n[0])
		if err != nil {
			return 1, 1, 1, err
		}
		p = f.Greater
		all := c.k[0] + c.k[1]
		most := min(all, c.n[1])
		if f, err = stats.FisherExact(most, c.n[1], all-most, c.n[0]); err != nil {
			return 1, 1, 1, err
		}
		least = f.Greater
	}
	limit, err = c.limit(0, 0, o)
	return p, least, limit, err
}

// limit is the upper limit, at a one-sided confidence of 1-Alpha, of the
// candidate's rate less the baseline's, with so many further runs without
// trouble. What is not known counts against the candidate: as trouble there, as
// none in the baseline. It is 1 when a side has no run at all.
func (c *counts) limit(candidate, baseline int64, o Options) (float64, error) {
	n1, n0 := c.n[1]+c.unknown[1]+candidate, c.n[0]+c.unknown[0]+baseline
	if n1 == 0 || n0 == 0 {
		return 1, nil
	}
	_, high, err := stats.RateDifference(c.k[1]+c.unknown[1], n1, c.k[0], n0, 1-2*o.Alpha)
	return high, err
}

func (c *counts) wouldDo(candidate, baseline int64, o Options) (bool, error) {
	limit, err := c.limit(candidate, baseline, o)
	return limit < o.Margin, err
}
