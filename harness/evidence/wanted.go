package evidence

import (
	"slices"

	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/console"
)

// Limits of what is kept.
const (
	WholeRange = 16        // frames of a range of which every picture is kept
	MostEvent  = 64        // pictures kept for one event
	MostKept   = 1000      // pictures of a run
	mostBytes  = 128 << 20 // of their planes
)

// MostPictures is how many pictures of a raster are kept of a run at most:
// MostKept, and no more than are 128 MiB unpacked.
func MostPictures(w, h int) int { return min(MostKept, mostBytes/max(1, 3*w*h)) }

// wanted gathers capture indexes.
type wanted struct {
	most int
	rows []record.FrameRow
	at   map[console.Frame]int // the fresh picture of a frame
	keep map[int]bool
}

// Wanted are the capture indexes of the pictures that the verdicts of a run rest
// on, ascending: of the checkpoints s with their results, of the timing, and of
// the anchor. rows is frames.csv, back how many pictures before those of the
// timing and of the anchor are kept besides.
func Wanted(s *specs.Spec, rows []record.FrameRow, results []judge.Result, t *judge.Timing, back int) []int {
	w := &wanted{most: MostPictures(s.Console.Width, s.Console.Height), rows: rows, at: map[console.Frame]int{}, keep: map[int]bool{}}
	for i, r := range rows {
		if r.State == record.Fresh {
			w.at[r.Frame] = i
		}
	}
	if t != nil {
		w.event(t.From, back)
		w.event(t.To, back)
	}
	if s.Anchor != nil {
		k := slices.IndexFunc(rows, func(r record.FrameRow) bool { return r.State == record.Fresh && r.Frame >= s.Anchor.Frame })
		for i := max(0, k-1-back); i <= k; i++ {
			w.add(i)
		}
	}
	for _, r := range results {
		if r.From == r.To {
			w.frame(r.Frame)
		}
	}
	for i, r := range results {
		if r.From == r.To {
			continue
		}
		w.frame(r.Frame)
		if i < len(s.Checkpoints) && (s.Checkpoints[i].Every || s.Checkpoints[i].Series) {
			w.span(r.From, r.To)
		}
	}
	out := make([]int, 0, len(w.keep))
	for k := range w.keep {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func (w *wanted) add(k int) {
	if len(w.keep) < w.most {
		w.keep[k] = true
	}
}

func (w *wanted) frame(f console.Frame) {
	if k, ok := w.at[f]; ok {
		w.add(k)
	}
}

// span keeps a short range whole, and of a long one its two ends.
func (w *wanted) span(from, to console.Frame) {
	if to-from < WholeRange {
		for f := from; f <= to; f++ {
			w.frame(f)
		}
		return
	}
	first, last := -1, -1
	for k, r := range w.rows {
		if r.State == record.Fresh && r.Frame >= from && r.Frame <= to {
			if first < 0 {
				first = k
			}
			last = k
		}
	}
	if first >= 0 {
		w.add(first)
		w.add(last)
	}
}

// event keeps the pictures from before the first frame in which an event may have
// come to the one that shows it.
func (w *wanted) event(e *judge.EventTime, back int) {
	if e == nil {
		return
	}
	k, ok := w.at[e.Frame]
	if !ok {
		return
	}
	before := 0
	for n := 0; k >= 0 && n < MostEvent; k-- {
		if w.rows[k].State != record.Fresh {
			continue
		}
		w.add(k)
		n++
		if w.rows[k].Frame < e.Since {
			if before++; before > back {
				return
			}
		}
	}
}
