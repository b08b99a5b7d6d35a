package readtiming

import (
	"fmt"
	"slices"
	"strings"

	"latchproof/harness/clock"
	"latchproof/specs/console"
)

// Kind is a kind of anomaly; doc.go lists them.
type Kind string

// The kinds of anomaly.
const (
	ExtraClocks Kind = "extra-clocks"
	Underrun    Kind = "underrun"
	LateServed  Kind = "late-serve"
	LostRecords Kind = "lost-records"
	LagFrame    Kind = "lag-frame"
	DoubleRead  Kind = "double-read"
	ExtraRead   Kind = "extra-read"
	OffGrid     Kind = "off-grid"
	NoClocks    Kind = "no-clocks"
	MixedState  Kind = "mixed-state"
	ServiceGap  Kind = "service-gap"
)

// Anomaly is one kind of oddity of a run.
type Anomaly struct {
	Kind  Kind  `json:"kind"`
	Board bool  `json:"board"` // of the board or its wires, not of the game
	Count int64 `json:"count"` // reads, or what the sentence counts
	// Reads are those concerned; of a lag frame, the read before it.
	Reads []int64 `json:"reads"`
	Text  string  `json:"text"`
}

// named is how many places, or stretches of them, a sentence names.
const named = 8

// Board says whether there is an anomaly of the board.
func (s Study) Board() bool {
	return slices.ContainsFunc(s.Anomalies, func(a Anomaly) bool { return a.Board })
}

// tell makes the sentences.
func (s *Study) tell(events []clock.ReadEvent, fit *clock.ReadFit) {
	s.Anomalies = []Anomaly{}
	add := func(kind Kind, board bool, count int, reads []int64, format string, args ...any) {
		s.Anomalies = append(s.Anomalies, Anomaly{kind, board, int64(count), reads, fmt.Sprintf(format, args...)})
	}
	s.tellClocks(add)
	if n := len(s.Underruns); n > 0 {
		add(Underrun, true, n, s.Underruns, "%s served without program data (%s): released buttons went out and everything after came later; look at what held the host up, and at the board's buffer",
			were(n, "read"), places("read", s.Underruns))
	}
	if n := len(s.LateServes); n > 0 {
		add(LateServed, true, n, s.LateServes, "%s served late, the worst %.1f us after the latch pulse began (%s): the pulse was over before the first bit was out, so the console may have taken the bit before; look at what the firmware does when the pulse comes",
			were(n, "read"), s.worstLate(), places("read", s.LateServes))
	}
	s.tellLost(add)
	s.tellLag(add, fit)
	if n := len(s.DoubleReads); n > 0 && int64(n)*10 < s.Reads*9 {
		add(DoubleRead, false, n, s.DoubleReads, "%s several latch pulses (%s): the game reads there to be sure, or stray pulses came within the burst gap; when other runs have none there, look at ringing on the latch line",
			of(n, "read", "was", "were")+" of", places("read", s.DoubleReads))
	}
	if n := len(s.ExtraReads); n > 0 {
		add(ExtraRead, false, n, s.ExtraReads, "%s too many in a frame (%s): the program went on by one each time; look at noise on the latch line, or whether the game reads twice with a pause longer than the burst gap",
			were(n, "read"), places("read", s.ExtraReads))
	}
	if n := len(s.OffGrid); n > 0 {
		add(OffGrid, false, n, s.OffGrid, "%s far from the moment in the frame at which the others are made (%s): the game was late there, or the frame's own read was missed and a stray pulse took its place; look at the latch line",
			were(n, "read"), places("read", s.OffGrid))
	}
	if n := len(s.NoClocks); n > 0 {
		add(NoClocks, false, n, s.NoClocks, "%s without a clock pulse (%s): nothing was read, so the latch pulse may be one that never was; look at noise on the latch line",
			were(n, "read"), places("read", s.NoClocks))
	}
	if n := len(s.MixedStates); n > 0 {
		add(MixedState, false, n, s.MixedStates, "%s served different states at pulses of one read (%s): the firmware took up the next state too early; look at its burst gap",
			were(n, "read"), places("read", s.MixedStates))
	}
	if v := s.Service; v != nil && len(v.Missing) > 0 {
		n := int64(0)
		var reads []int64
		for _, g := range v.Missing {
			n += g.Len()
			reads = append(reads, g.Read)
		}
		add(ServiceGap, false, int(n), reads, "%s never arrived (latch pulses %s): latencies are told of the others only; look at the cable to the board",
			some(int(n), "service record"), ranges(v.Missing))
	}
}

type adder func(kind Kind, board bool, count int, reads []int64, format string, args ...any)

// tellClocks tells of clock pulses, one sentence for each count seen.
func (s *Study) tellClocks(add adder) {
	groups := map[[2]int][]int64{} // count and wanted: reads
	for _, o := range s.OddClocks {
		key := [2]int{o.Count, o.Want}
		if g := groups[key]; len(g) == 0 || g[len(g)-1] != o.Read {
			groups[key] = append(g, o.Read)
		}
	}
	var keys [][2]int
	for k := range groups {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b [2]int) int { return a[0] - b[0] })
	for _, k := range keys {
		reads := groups[k]
		count := fmt.Sprint(k[0])
		if k[0] == 255 {
			count = "255 or more"
		}
		what := "a clock edge too many came down the wire; look at ringing on the clock line and the pull-up"
		switch over := k[0] - k[1]; {
		case over > 1:
			what = fmt.Sprintf("%d clock edges too many came down the wire; look at ringing on the clock line and the pull-up", over)
		case over < 0:
			what = "clock edges were missed, or far too many came; look at the level and the slope of the clock line"
		}
		add(ExtraClocks, true, len(reads), reads, "%s %s clock pulses instead of %d (%s): %s",
			of(len(reads), "read", "had", "had"), count, k[1], places("read", reads), what)
	}
}

func (s *Study) tellLost(add adder) {
	if len(s.Lost) == 0 {
		return
	}
	n := int64(0)
	var reads []int64
	for _, g := range s.Lost {
		n += g.Len()
		reads = append(reads, g.Read)
	}
	add(LostRecords, true, int(n), reads, "%s never arrived (latch pulses %s, before read %d as the log counts): the numbers of the reads from there on are not certain; look at the cable to the board and at what else runs on the host",
		some(int(n), "log record"), ranges(s.Lost), reads[0])
}

func (s *Study) tellLag(add adder, fit *clock.ReadFit) {
	if len(s.LagFrames) == 0 {
		return
	}
	var reads []int64
	var at []string
	for _, f := range s.LagFrames {
		before := after(fit, console.Frame(f)) - 1
		reads = append(reads, before)
		at = append(at, fmt.Sprintf("frame %d, after read %d", f, before))
	}
	add(LagFrame, false, len(at), reads, "%s no read (%s): the game was busy, or the board missed the read, which looks the same; when other runs of the program have a read there, look at the latch line",
		of(len(at), "frame", "had", "had"), strings.Join(short(at), "; "))
}

func (s *Study) worstLate() (us float64) {
	for _, l := range s.Service.Late {
		us = max(us, l.LatencyUS)
	}
	return us
}

// of is "1 read was" or "3 reads were".
func of(n int, what, one, many string) string {
	if n == 1 {
		return "1 " + what + " " + one
	}
	return fmt.Sprintf("%d %ss %s", n, what, many)
}

func were(n int, what string) string { return of(n, what, "was", "were") }

func some(n int, what string) string { return strings.TrimSuffix(of(n, what, "", ""), " ") }

// places is "read 12" or "reads 12, 40, 80 to 90, and 3 more"; at rises.
func places(what string, at []int64) string {
	var runs []Gap
	for _, x := range at {
		if n := len(runs); n > 0 && runs[n-1].To == x-1 {
			runs[n-1].To = x
		} else {
			runs = append(runs, Gap{From: x, To: x})
		}
	}
	if len(at) > 1 {
		what += "s"
	}
	return what + " " + ranges(runs)
}

// ranges is "3, 5 to 9".
func ranges(gaps []Gap) string {
	var out []string
	for _, g := range gaps {
		if g.From == g.To {
			out = append(out, fmt.Sprint(g.From))
		} else {
			out = append(out, fmt.Sprintf("%d to %d", g.From, g.To))
		}
	}
	return strings.Join(short(out), ", ")
}

// short keeps the first of a list and says how many more there are.
func short(list []string) []string {
	if len(list) <= named {
		return list
	}
	return append(slices.Clip(list[:named]), fmt.Sprintf("and %d more", len(list)-named))
}
