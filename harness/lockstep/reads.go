package lockstep

import (
	"fmt"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// readGap is the first difference of two read logs.
type readGap struct {
	frame console.Frame
	read  program.Read
	why   string
}

// settleFrames is how many later frames are asked by how many reads a run is
// late after a missed or extra read.
const settleFrames = 8

// compareReads finds the first difference of two read logs from a frame on, as
// far as both logs reach; nil when there is none. Run a is the reference: a
// read that only a has was missed by b, one that only b has is extra in b.
func compareReads(a, b Run, start console.Frame) (*readGap, []string) {
	var warnings []string
	for _, r := range []Run{a, b} {
		if len(r.Reads) == 0 {
			warnings = append(warnings, r.Name+" has no read log: a difference of the input cannot be told from one of the console")
		}
	}
	if len(warnings) > 0 {
		return nil, warnings
	}
	// The last frame of a log may have been cut in the middle.
	end := min(a.Reads[len(a.Reads)-1].Frame, b.Reads[len(b.Reads)-1].Frame)
	x, y := from(a.Reads, start), from(b.Reads, start)
	for len(x) > 0 && len(y) > 0 {
		f := min(x[0].Frame, y[0].Frame)
		if f > end {
			break
		}
		inA, inB := inFrame(x, f), inFrame(y, f)
		for i := 0; i < min(len(inA), len(inB)); i++ {
			if why := served(a, b, inA[i], inB[i]); why != "" {
				return &readGap{f, inB[i].Read, why}, nil
			}
		}
		if len(inA) != len(inB) && f < end {
			return countGap(a, b, x, y, f), nil
		}
		x, y = x[len(inA):], y[len(inB):]
	}
	return nil, nil
}

// from leaves out the reads before a frame.
func from(reads []ReadInfo, start console.Frame) []ReadInfo {
	for i, r := range reads {
		if r.Frame >= start {
			return reads[i:]
		}
	}
	return nil
}

// inFrame is the reads at the head of a log that fall in one frame.
func inFrame(reads []ReadInfo, f console.Frame) []ReadInfo {
	n := 0
	for n < len(reads) && reads[n].Frame == f {
		n++
	}
	return reads[:n]
}

// countGap is for a frame with a read more or less in b than in a.
func countGap(a, b Run, x, y []ReadInfo, f console.Frame) *readGap {
	inA, inB := inFrame(x, f), inFrame(y, f)
	g := &readGap{frame: f}
	if len(inA) > len(inB) {
		g.read = inA[len(inB)].Read
		g.why = fmt.Sprintf("%s missed read %d: frame %d has %s in %s and %s in %s",
			b.Name, g.read, f, reads(len(inA)), a.Name, reads(len(inB)), b.Name)
	} else {
		g.read = inB[len(inA)].Read
		g.why = fmt.Sprintf("%s has an extra read %d: frame %d has %s in %s and %s in %s",
			b.Name, g.read, f, reads(len(inA)), a.Name, reads(len(inB)), b.Name)
	}
	switch late, ok := lateness(x[len(inA):], y[len(inB):]); {
	case !ok:
	case late == 0:
		g.why += "; the reads after it are in step again"
	case late > 0:
		g.why += fmt.Sprintf("; from there the program is %s late", reads(int(late)))
	default:
		g.why += fmt.Sprintf("; from there the program is %s early", reads(int(-late)))
	}
	return g
}

// lateness is by how many reads b is behind a in the frames that follow: the
// difference that most of the next frames with reads in both agree on.
func lateness(x, y []ReadInfo) (program.Read, bool) {
	votes := map[program.Read]int{}
	n := 0
	for len(x) > 0 && len(y) > 0 && n < settleFrames {
		switch {
		case x[0].Frame < y[0].Frame:
			x = x[1:]
			continue
		case y[0].Frame < x[0].Frame:
			y = y[1:]
			continue
		}
		votes[x[0].Read-y[0].Read]++
		n++
		f := x[0].Frame
		x, y = x[len(inFrame(x, f)):], y[len(inFrame(y, f)):]
	}
	for late, v := range votes {
		if 2*v > n {
			return late, true
		}
	}
	return 0, false
}

func reads(n int) string {
	switch n {
	case 0:
		return "none"
	case 1:
		return "one read"
	}
	return fmt.Sprintf("%d reads", n)
}

// served compares two reads that answer to each other; empty when they are the
// same.
func served(a, b Run, x, y ReadInfo) string {
	at := fmt.Sprintf("read %d in frame %d", y.Read, y.Frame)
	switch {
	case x.Underrun != y.Underrun:
		who := b.Name
		if x.Underrun {
			who = a.Name
		}
		return fmt.Sprintf("%s had no program data for %s", who, at)
	case x.State != y.State:
		return fmt.Sprintf("%s was served otherwise: %s in %s, %s in %s", at, state(x.State), a.Name, state(y.State), b.Name)
	case x.Pulses != y.Pulses:
		return fmt.Sprintf("%s has %d latch pulses in %s and %d in %s", at, x.Pulses, a.Name, y.Pulses, b.Name)
	case x.Clocks != y.Clocks:
		return fmt.Sprintf("%s has %d clock pulses in %s and %d in %s", at, x.Clocks, a.Name, y.Clocks, b.Name)
	case x.Clocks2 != y.Clocks2:
		return fmt.Sprintf("%s has %d clock pulses on port 2 in %s and %d in %s", at, x.Clocks2, a.Name, y.Clocks2, b.Name)
	}
	return ""
}

func state(s program.State) string {
	if s.P2 != 0 {
		return fmt.Sprintf("0x%02x and p2 0x%02x", s.P1, s.P2)
	}
	return fmt.Sprintf("0x%02x", s.P1)
}
