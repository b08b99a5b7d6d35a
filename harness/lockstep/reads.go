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
	part  Part
	// moves: from there the same reads follow in the same order, late frames
	// later in b (earlier when negative), as after frames in which the console
	// did not read.
	moves bool
	late  int
}

// settleFrames is how many later frames are asked by how many reads a run is
// late after a missed or extra read.
const settleFrames = 8

// pulseGap is the first read with more latch pulses in one log than in the
// other. Its console was given the same again, so it explains no picture.
type pulseGap struct {
	frame console.Frame
	why   string
}

// compareReads finds the first difference of two read logs from a frame on, as
// far as both logs reach, and before it the first of their latch pulses alone;
// nil when there is none. Run a is the reference: a read that only a has was
// missed by b, one that only b has is extra in b.
func compareReads(a, b Run, start console.Frame, opt Options) (gap *readGap, pulses *pulseGap, warnings []string) {
	for _, r := range []Run{a, b} {
		if len(r.Reads) == 0 {
			warnings = append(warnings, r.Name+" has no read log: a difference of the input cannot be told from one of the console")
		}
	}
	if len(warnings) > 0 {
		return nil, nil, warnings
	}
	// The last frame of a log may have been cut in the middle.
	end := min(a.Reads[len(a.Reads)-1].Frame, b.Reads[len(b.Reads)-1].Frame)
	x, y := from(a.Reads, start), from(b.Reads, start)
	var before *ReadInfo // the last read of both
	for len(x) > 0 && len(y) > 0 {
		f := min(x[0].Frame, y[0].Frame)
		if f > end {
			break
		}
		inA, inB := inFrame(x, f), inFrame(y, f)
		for i := 0; i < min(len(inA), len(inB)); i++ {
			if why, part := served(a, b, inA[i], inB[i], opt); why != "" {
				return &readGap{frame: f, read: inB[i].Read, why: why, part: part}, pulses, nil
			}
			if n, k := inA[i].Pulses, inB[i].Pulses; n != k && pulses == nil {
				pulses = &pulseGap{f, fmt.Sprintf("read %d in frame %d has %d latch pulses in %s and %d in %s", inB[i].Read, f, n, a.Name, k, b.Name)}
			}
		}
		if len(inA) != len(inB) && f < end {
			return countGap(a, b, x, y, f, before, opt), pulses, nil
		}
		if len(inA) > 0 {
			before = &inA[len(inA)-1]
		}
		x, y = x[len(inA):], y[len(inB):]
	}
	return nil, pulses, nil
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

// countGap is for a frame with a read more or less in b than in a; before is the
// last read of both, nil when there is none.
func countGap(a, b Run, x, y []ReadInfo, f console.Frame, before *ReadInfo, opt Options) *readGap {
	inA, inB := inFrame(x, f), inFrame(y, f)
	g := &readGap{frame: f, part: PartBoard}
	if len(inA) > len(inB) {
		g.read = inA[len(inB)].Read
		g.why = fmt.Sprintf("%s missed read %d", b.Name, g.read)
	} else {
		g.read = inB[len(inA)].Read
		g.why = fmt.Sprintf("%s has an extra read %d", b.Name, g.read)
	}
	late, ok := lateness(x[len(inA):], y[len(inB):])
	g.late, g.moves = inOrder(x, y)
	switch {
	case !ok:
	case late == 0:
		g.why += "; the reads after it are in step again"
	default:
		if text := servedLate(x, y, before, late > 0, opt); text != "" {
			g.why += "; " + text
		} else if late > 0 {
			g.why += fmt.Sprintf("; from there the program is %s late", reads(int(late)))
		} else {
			g.why += fmt.Sprintf("; from there the program is %s early", reads(int(-late)))
		}
	}
	return g
}

// servedLate finds the first state that b's console got late, or early. A
// console whose read was missed keeps what it was served before.
func servedLate(x, y []ReadInfo, before *ReadInfo, late bool, opt Options) string {
	if !late {
		x, y = y, x
	}
	// x is the run that got it first.
	if before != nil && len(x) > 0 && len(y) > 0 && x[0].Frame < y[0].Frame && x[0].State != before.State {
		y = append([]ReadInfo{{Frame: x[0].Frame, State: before.State}}, y...)
	}
	for x, y = abreast(x, y, byFrame); len(x) > 0; x, y = abreast(x[1:], y[1:], byFrame) {
		if x[0].State == y[0].State {
			continue
		}
		for _, r := range y {
			if r.State != x[0].State {
				continue
			}
			word := "late"
			if !late {
				word = "early"
			}
			return fmt.Sprintf("the board served %s %s %s", state(x[0].State, opt), frames(int(r.Frame-x[0].Frame)), word)
		}
		return ""
	}
	return ""
}

// abreast leaves out reads at the heads of two logs until both begin with the
// same frame, or number; without such both are empty.
func abreast(x, y []ReadInfo, by func(ReadInfo) int64) (_, _ []ReadInfo) {
	for len(x) > 0 && len(y) > 0 {
		switch p, q := by(x[0]), by(y[0]); {
		case p < q:
			x = x[1:]
		case q < p:
			y = y[1:]
		default:
			return x, y
		}
	}
	return nil, nil
}

func byFrame(r ReadInfo) int64 { return int64(r.Frame) }
func byRead(r ReadInfo) int64  { return int64(r.Read) }

// inOrder says whether the reads that follow are the same in both, by their
// numbers, and by how many frames b's are later: as many as nearly all of them
// agree on, and not none.
func inOrder(x, y []ReadInfo) (late int, ok bool) {
	votes := map[console.Frame]int{}
	n := 0
	for x, y = abreast(x, y, byRead); len(x) > 0 && n < 8*settleFrames; x, y = abreast(x[1:], y[1:], byRead) {
		if !sameInput(x[0], y[0]) {
			return 0, false
		}
		n++
		votes[y[0].Frame-x[0].Frame]++
	}
	for d, v := range votes {
		if 4*v >= 3*n {
			return int(d), d != 0
		}
	}
	return 0, false
}

// lateness is by how many reads b is behind a in the frames that follow: the
// difference that most of the next frames with reads in both agree on.
func lateness(x, y []ReadInfo) (program.Read, bool) {
	votes := map[program.Read]int{}
	n := 0
	for x, y = abreast(x, y, byFrame); len(x) > 0 && n < settleFrames; x, y = abreast(x, y, byFrame) {
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
// same. part is what the difference points to.
func served(a, b Run, x, y ReadInfo, opt Options) (why string, part Part) {
	at := fmt.Sprintf("read %d in frame %d", y.Read, y.Frame)
	switch {
	case x.Underrun != y.Underrun:
		who := b.Name
		if x.Underrun {
			who = a.Name
		}
		return fmt.Sprintf("%s had no program data for %s", who, at), PartBoard
	case x.State != y.State:
		part = PartBoard
		if a.Program != b.Program && a.Program != "" && b.Program != "" {
			part = PartProgram
		}
		why = fmt.Sprintf("%s was served otherwise: %s in %s, %s in %s", at, state(x.State, opt), a.Name, state(y.State, opt), b.Name)
		if part == PartProgram {
			why += "; their programs are not the same"
		}
		return why, part
	case !sameClocks(x, y, x.Clocks, y.Clocks):
		return fmt.Sprintf("%s has %d clock pulses in %s and %d in %s", at, x.Clocks, a.Name, y.Clocks, b.Name), PartBoard
	case !sameClocks(x, y, x.Clocks2, y.Clocks2):
		return fmt.Sprintf("%s has %d clock pulses on port 2 in %s and %d in %s", at, x.Clocks2, a.Name, y.Clocks2, b.Name), PartBoard
	}
	return "", ""
}

// state is a state as a maker writes it, or its numbers.
func state(s program.State, opt Options) string {
	switch {
	case opt.StateNames != nil:
		if names := opt.StateNames(s); names != "" {
			return "`" + names + "`"
		}
		return "nothing"
	case s.P2 != 0:
		return fmt.Sprintf("0x%02x and p2 0x%02x", s.P1, s.P2)
	}
	return fmt.Sprintf("0x%02x", s.P1)
}
