package baseline

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// questions are what is asked of a spec, in the order of the report, and what
// cannot be asked.
func questions(e Evidence, o Options) (list []*asked, notes []string) {
	b, c := e.Baseline, e.Candidate
	add := func(what string, n *counts) {
		list = append(list, &asked{row: Row{What: what, Baseline: n.words(0), Candidate: n.words(1)}, count: n})
	}
	add(RowLockstep, partings(b, c))
	bl, cl := livesOf(b), livesOf(c)
	list = append(list, &asked{
		row:   Row{What: RowSurvival, Baseline: bl.words(), Candidate: cl.words()},
		lives: [2]lives{cl, bl},
	})
	for _, t := range []struct {
		what string
		of   func(Numbers) float64
		plus float64
	}{
		{RowJitter, func(n Numbers) float64 { return n.JitterUS }, 0},
		{RowService, func(n Numbers) float64 { return n.ServiceMedianUS }, o.PlusUS},
		{RowWorst, func(n Numbers) float64 { return n.ServiceWorstUS }, o.PlusUS},
	} {
		x, y := valuesOf(b.Numbers, t.of), valuesOf(c.Numbers, t.of)
		switch {
		case len(x) == 0 && len(y) == 0:
			continue
		case len(x) == 0 || len(y) == 0:
			side := "candidate's"
			if len(x) == 0 {
				side = "baseline's"
			}
			notes = append(notes, fmt.Sprintf("%s cannot be compared: the %s runs do not tell it", t.what, side))
			continue
		}
		q := newTimes(y, x, o.Times, t.plus)
		list = append(list, &asked{row: Row{What: t.what, Baseline: timeWords(x), Candidate: timeWords(y)}, times: q})
	}
	for _, k := range []struct {
		what string
		of   func(Numbers) int64
	}{
		{RowClocks, func(n Numbers) int64 { return n.OddClocks }},
		{RowUnderruns, func(n Numbers) int64 { return n.Underruns }},
		{RowLate, func(n Numbers) int64 { return n.LateServes }},
	} {
		if n := anomalies(b.Numbers, c.Numbers, k.of); n != nil {
			add(k.what, n)
		} else {
			notes = append(notes, k.what+" cannot be compared: not both benches tell them")
		}
	}
	if n := otherReads(b.Numbers, c.Numbers); n != nil {
		add(RowReads, n)
	}
	if b.Held+b.Failed+b.Unseen+c.Held+c.Failed+c.Unseen > 0 {
		add(RowCheckpoints, &counts{
			k: [2]int64{b.Failed, c.Failed}, n: [2]int64{b.Held + b.Failed, c.Held + c.Failed}, unknown: [2]int64{b.Unseen, c.Unseen},
			what: "with a failed checkpoint",
		})
	}
	return list, notes
}

// partings counts the runs that part. A run that was cut short, or of which
// nothing can be told, is unknown.
func partings(b, c Side) *counts {
	n := &counts{what: "parted", unknown: [2]int64{b.Left, c.Left}}
	for i, s := range []Side{b, c} {
		for _, l := range s.Lives {
			switch {
			case l.Parted:
				n.k[i]++
				n.n[i]++
			case l.Cut:
				n.unknown[i]++
			default:
				n.n[i]++
			}
		}
	}
	return n
}

// anomalies counts the runs that have one; nil when a side has no run that
// tells.
func anomalies(b, c []Numbers, of func(Numbers) int64) *counts {
	n := &counts{what: "with any"}
	for i, side := range [][]Numbers{b, c} {
		for _, x := range side {
			switch v := of(x); {
			case v < 0:
				n.unknown[i]++
			case v > 0:
				n.k[i]++
				n.n[i]++
			default:
				n.n[i]++
			}
		}
	}
	if n.n[0] == 0 || n.n[1] == 0 {
		return nil
	}
	return n
}

// otherReads counts the runs whose reads lie otherwise than those of the
// reference, which is the first of b and is not counted itself; nil when that is
// not known.
func otherReads(b, c []Numbers) *counts {
	if len(b) == 0 || b[0].LagFrames < 0 {
		return nil
	}
	n := &counts{what: "unlike the reference"}
	for i, side := range [][]Numbers{b[1:], c} {
		for _, x := range side {
			switch {
			case x.LagFrames < 0:
				n.unknown[i]++
			case !x.sameReads(b[0]):
				n.k[i]++
				n.n[i]++
			default:
				n.n[i]++
			}
		}
	}
	return n
}

// valuesOf are the values that are known.
func valuesOf(ns []Numbers, of func(Numbers) float64) []float64 {
	var out []float64
	for _, n := range ns {
		if v := of(n); !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}

// timeWords is the median of times and how far they lie apart.
func timeWords(x []float64) string {
	s := slices.Sorted(slices.Values(x))
	text := func(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }
	return fmt.Sprintf("median %s us (%s to %s, %d runs)", text(middle(s)), text(s[0]), text(s[len(s)-1]), len(s))
}
