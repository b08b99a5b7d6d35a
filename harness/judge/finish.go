package judge

import (
	"fmt"
	"slices"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// finish settles the verdicts when the last picture has been watched.
func (w *watcher) finish() (*Watched, error) {
	w.confront()
	out := &Watched{Rows: w.rows, Last: -1, Problems: w.problems}
	for _, j := range w.jobs {
		out.Results = append(out.Results, j.settle(w.clock))
	}
	// The clock is told what is now known of the card's repeats, for the
	// account of which frames were seen. No picture moves: it only takes
	// pictures away from frames. Why a frame is unseen was told before: from
	// now on a repeat looks like no picture at all.
	if bad := w.bad(); slices.Contains(bad, true) {
		if err := w.take(w.clock.WithStale(bad)); err != nil {
			return nil, err
		}
	}
	out.Clock = w.clock
	if first, last, ok := w.clock.Frames(); ok {
		out.Last = last
		for f := max(first, 0); f <= last; f++ {
			if !w.seen[f] {
				out.Unseen = append(out.Unseen, int64(f))
			}
		}
	}
	out.Timing = w.timer.settle(w.clock, out.Last)
	out.Counts = w.counts(out)
	if w.fit != nil {
		out.Reads = reads(w.events, w.fit)
		starve(out.Reads, w.events, w.in.Latches, w.in.Underruns)
		if n, lost := w.fit.Whole(); lost {
			out.Problems = append(out.Problems, fmt.Sprintf("log records were lost after read %d: the reads after it have no certain number", n-1))
		}
		for _, f := range w.fit.LagFrames() {
			out.Lag = append(out.Lag, int64(f))
		}
	}
	if w.trace != nil {
		if err := w.trace.Close(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// bad marks the pictures that are not of their own instant.
func (w *watcher) bad() []bool {
	bad := slices.Clone(w.stale)
	for k, d := range w.damaged {
		bad[k] = bad[k] || d
	}
	return bad
}

// confront holds the clock against the pictures. One that is measured and that
// they contradict is not trusted: then no picture stands for a frame. One that
// is assumed may be off by half a frame anyway, and that is said of it.
func (w *watcher) confront() {
	defer func() { w.told = true }()
	if !w.known() && w.clock.State != clock.Untrusted {
		w.against = newEvidence(w.motion, w.clock.Captures, w.bad()).against()
	}
	switch {
	case w.against == "" || w.clock.State == clock.Untrusted:
		w.against = ""
	case w.clock.State == clock.Measured:
		w.clock.Contradict(w.against)
		w.seen = map[console.Frame]bool{}
		for k, r := range w.rows {
			if r.State == record.Fresh || r.Frame != record.NoFrame {
				w.rows[k].State, w.rows[k].Frame = record.Unsure, record.NoFrame
			}
		}
	default:
		w.clock.Contradict(w.against)
		w.problem("%s", w.against)
	}
}

func (w *watcher) counts(out *Watched) Counts {
	c := Counts{Pictures: len(w.rows), Frames: int(out.Last) + 1, Unseen: len(out.Unseen)}
	for _, r := range w.rows {
		switch r.State {
		case record.Fresh:
			c.Fresh++
		case record.Repeat:
			c.Repeats++
		case record.Unsure:
			c.Unsure++
		case record.Outside:
			c.Outside++
		case record.Damaged:
			c.Damaged++
		}
	}
	return c
}

// reads is the read log on the frame grid, for comparing runs.
func reads(events []clock.ReadEvent, fit *clock.ReadFit) []lockstep.ReadInfo {
	// After a lost log record the number of no read is known.
	whole, _ := fit.Whole()
	out := make([]lockstep.ReadInfo, 0, whole)
	for i, e := range events[:whole] {
		f, ok := fit.FrameOfRead(program.Read(i))
		if !ok {
			f = console.Frame(-1)
		}
		out = append(out, lockstep.ReadInfo{
			Read: program.Read(i), Frame: f, State: e.State,
			Pulses: e.Pulses, Clocks: e.Clocks, Clocks2: e.Clocks2,
		})
	}
	return out
}

// ReadLog puts a read log on the frame grid without any capture. underruns are
// the indexes of the latch pulses that were served without program data. After
// a lost log record the number of no read is known, and the list ends. Errors
// are those of clock.FitReads.
func ReadLog(latches []feeder.Latch, underruns []int64, p console.Profile) ([]lockstep.ReadInfo, error) {
	events := clock.Group(latches, p.BurstGap)
	fit, err := clock.FitReads(events, p.Rate)
	if err != nil {
		return nil, err
	}
	out := reads(events, fit)
	starve(out, events, latches, underruns)
	return out, nil
}

// starve marks the reads that the board served without program data.
func starve(reads []lockstep.ReadInfo, events []clock.ReadEvent, latches []feeder.Latch, underruns []int64) {
	if len(underruns) == 0 {
		return
	}
	starved := map[int64]bool{}
	for _, i := range underruns {
		starved[i] = true
	}
	for i := range reads {
		e := events[i]
		for _, l := range latches[e.First : e.First+e.Pulses] {
			reads[i].Underrun = reads[i].Underrun || starved[l.Index]
		}
	}
}
