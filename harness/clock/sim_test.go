package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"time"

	"latchproof/harness/feeder"
	"latchproof/specs/console"
)

// ntsc is the frame rate of a console with NTSC-family timing, 39375000/655171
// Hz: dot clock 3/2 of the subcarrier 315/88 MHz over 341*262 - 1/2 dots.
var ntsc = console.Rate{Num: 39375000, Den: 655171}

// truth is a run whose every frame is known. It shares no code with the
// package. Times are seconds of host time.
type truth struct {
	gap      time.Duration
	start    []float64 // of every frame, and a few beyond the last read
	reading  []bool    // the console reads in this frame
	logged   []int     // frame of every logged read
	spurious []bool    // the logged read was no read of the console
	onTick   []bool    // and came where the next frame's read would have been
	latches  []feeder.Latch
	syncs    []feeder.Sync
	latency  float64
	interval Interval
	stamps   []time.Duration
	taken    []float64 // true instant of every picture
	rate     float64   // of the card
	lost     int       // pictures that never arrived, between the first and the last
	boardErr float64
	consPPM  float64
}

type settings struct {
	frames                     int
	ppm, wander, wanderPeriod  float64
	jitter                     float64 // of reads, half width, s
	lag, double, missed, extra float64 // chances a frame
	pause                      float64 // one pause without reads, s
	boardPPM                   float64
	latency, half              float64 // s
	rate, cardPPM              float64
	stampJitter                float64
	normal                     bool    // shape of the stamps' jitter
	delay                      float64 // one-sided besides: mean of an exponential, s
	squared                    bool    // the delay is 3 times the square of 0..1 instead, of the same mean
	boundless                  bool    // normal jitter is not cut off; stampJitter is its sigma
	bursts, burst              int     // so many times so many pictures in a row are lost
	cardWander, boardWander    float64 // parts per million, over wanderPeriod
	drop                       float64
	syncs                      int
}

func randomSettings(r *rand.Rand) settings {
	pick := func(v ...float64) float64 { return v[r.IntN(len(v))] }
	s := settings{
		frames: []int{60, 200, 400, 900, 2400}[r.IntN(5)] + r.IntN(60),
		ppm:    400*r.Float64() - 200, wander: pick(0, 1, 5) * r.Float64(), wanderPeriod: 60 + 540*r.Float64(),
		jitter: 0.3e-3 * r.Float64(),
		lag:    pick(0, 0.02, 0.3), double: pick(0, 0.1, 1), missed: pick(0, 0.002, 0.02), extra: pick(0, 0.002, 0.02),
		boardPPM: 160*r.Float64() - 80,
		latency:  0.02 + 0.06*r.Float64(), half: pick(0.1e-3, 0.5e-3, 1.5e-3),
		rate: pick(60000./1001, 60000./1001, 60.0988, 60, 119.88), cardPPM: 100*r.Float64() - 50,
		stampJitter: pick(0, 0.5e-3, 3e-3) * r.Float64(), normal: r.IntN(2) == 0,
		drop: pick(0, 0.001, 0.02), syncs: 8 + r.IntN(24),
	}
	if r.IntN(250) == 0 {
		s.frames = 36000
	}
	if s.frames >= 400 && r.IntN(4) == 0 {
		s.pause = 0.2 + 5*r.Float64()
	}
	if s.rate > 100 {
		s.stampJitter /= 2
	}
	return s
}

func simulate(r *rand.Rand, s settings) truth {
	t := truth{gap: time.Duration(1000+r.IntN(1000)) * time.Microsecond, consPPM: s.ppm, boardErr: s.boardPPM}
	sym := func(a float64) float64 { return a * (2*r.Float64() - 1) }
	period := float64(ntsc.Den) / float64(ntsc.Num) / (1 + s.ppm*1e-6)
	t0 := 3 + r.Float64()
	phase := 2 * math.Pi * r.Float64()
	at := func(n int) float64 {
		x := float64(n) * period
		w := 2 * math.Pi / s.wanderPeriod
		return t0 + x + s.wander*1e-6/w*(math.Cos(phase)-math.Cos(w*x+phase))
	}
	const beyond = 120
	for n := range s.frames + beyond {
		t.start = append(t.start, at(n))
	}
	// Pulses: when, of which frame, whether the console made them.
	type pulse struct {
		at    float64
		frame int
		real  bool
	}
	var pulses []pulse
	t.reading = make([]bool, s.frames)
	pauseFrom, pauseTo := 0, 0
	if s.pause > 0 {
		pauseFrom = 1 + r.IntN(s.frames)
		pauseTo = pauseFrom + int(s.pause/period)
	}
	for n := range s.frames {
		read := n == 0 || n == s.frames-1 || r.Float64() >= s.lag && (n < pauseFrom || n >= pauseTo)
		seen := n == 0 || n == s.frames-1 || r.Float64() >= s.missed
		when := at(n) + sym(s.jitter)
		if read && seen {
			t.reading[n] = true
			pulses = append(pulses, pulse{when, n, true})
			if r.Float64() < s.double {
				pulses = append(pulses, pulse{when + 0.2e-3 + 0.6e-3*r.Float64(), n, true})
			}
			if r.Float64() < s.extra && n < s.frames-1 {
				g := t.gap.Seconds() + 0.85e-3
				pulses = append(pulses, pulse{when + g + (period-g)*r.Float64(), n, false})
			}
		}
	}
	sort.Slice(pulses, func(i, j int) bool { return pulses[i].at < pulses[j].at })
	boardZero := 5_000_000_000 + 1e9*r.Float64() // past 32 bits of microseconds
	boardPhase := phase + 1
	board := func(host float64) int64 {
		w := 2 * math.Pi / s.wanderPeriod
		strayed := s.boardWander * 1e-6 / w * math.Cos(w*host+boardPhase)
		return int64(math.Floor(boardZero + (host*(1+s.boardPPM*1e-6)+strayed)*1e6))
	}
	for i, p := range pulses {
		m := board(p.at)
		t.latches = append(t.latches, feeder.Latch{Index: int64(i), Micros: m, Clocks: 8})
		if i > 0 && m-t.latches[i-1].Micros < t.gap.Microseconds() {
			if last := len(t.logged) - 1; p.real && t.spurious[last] {
				// A spurious pulse just before the console's own became part of it.
				t.logged[last], t.spurious[last], t.onTick[last] = p.frame, false, false
			}
			continue
		}
		t.logged = append(t.logged, p.frame)
		t.spurious = append(t.spurious, !p.real)
		t.onTick = append(t.onTick, !p.real && !t.reading[p.frame+1] && t.start[p.frame+1]-p.at < 4*s.jitter+150e-6)
	}
	dur := func(x float64) time.Duration { return time.Duration(math.Round(x * 1e9)) }
	exchange := func(from float64) {
		for range s.syncs {
			there := 1e-3 + 1e-3*r.Float64()
			back := 1e-3 + 1e-3*r.Float64()
			t.syncs = append(t.syncs, feeder.Sync{Sent: dur(from), Micros: board(from + there), Received: dur(from + there + back)})
			from += there + back + 5e-3*r.Float64()
		}
	}
	end := at(s.frames - 1)
	exchange(t0 - 2)
	exchange(end + 0.5)
	t.latency = s.latency
	mid := s.latency + sym(s.half)
	t.interval = Around(dur(mid), dur(s.half))
	t.rate = s.rate
	step := 1 / (s.rate * (1 + s.cardPPM*1e-6))
	lost := 0
	begin := t0 - 0.6 + step*r.Float64()
	var holes [][2]float64
	for range s.bursts {
		at := begin + (end-begin)*r.Float64()
		holes = append(holes, [2]float64{at, at + float64(1+r.IntN(s.burst))*step})
	}
	cardPhase := phase + 2
	for k := 0; ; k++ {
		w := 2 * math.Pi / s.wanderPeriod
		x := begin + float64(k)*step
		x += s.cardWander * 1e-6 / w * (math.Cos(cardPhase) - math.Cos(w*(x-begin)+cardPhase))
		if x >= end+1 {
			break
		}
		if slices.ContainsFunc(holes, func(h [2]float64) bool { return h[0] <= x && x < h[1] }) || s.drop > 0 && r.Float64() < s.drop {
			lost++
			continue
		}
		j := sym(s.stampJitter)
		if s.normal {
			j = r.NormFloat64() * s.stampJitter
			if !s.boundless {
				j = max(-2.5, min(2.5, j/s.stampJitter)) * s.stampJitter / 2.5
				if s.stampJitter == 0 {
					j = 0
				}
			}
		}
		if s.delay > 0 {
			if s.squared {
				u := r.Float64()
				j += 3 * s.delay * u * u
			} else {
				j += s.delay * r.ExpFloat64()
			}
		}
		if len(t.taken) > 0 {
			t.lost += lost
		}
		lost = 0
		stamp := dur(x + j)
		if n := len(t.stamps); n > 0 && stamp < t.stamps[n-1] {
			stamp = t.stamps[n-1]
		}
		t.taken = append(t.taken, x)
		t.stamps = append(t.stamps, stamp)
	}
	return t
}

// frame of the console that picture k shows; -1 before the first, len beyond.
func (t truth) frame(k int) int {
	return sort.Search(len(t.start), func(n int) bool { return t.start[n]+t.latency > t.taken[k] }) - 1
}

// margin of picture k to the nearest frame boundary.
func (t truth) margin(k int) float64 {
	n := t.frame(k)
	if n < 0 || n+1 >= len(t.start) {
		return math.Inf(1)
	}
	x := t.taken[k] - t.latency
	return min(x-t.start[n], t.start[n+1]-x)
}

// firstOf is the first picture taken when frame n had begun.
func (t truth) firstOf(n int) int {
	k, _ := slices.BinarySearchFunc(t.taken, t.start[n]+t.latency, func(a, b float64) int {
		if a < b {
			return -1
		}
		return 1
	})
	return k
}

func (t truth) input() (Input, error) {
	fit, err := FitReads(Group(t.latches, t.gap), ntsc)
	if err != nil {
		return Input{}, err
	}
	line, err := FitBoard(t.syncs)
	return Input{Reads: fit, Board: line, Stamps: t.stamps, Nominal: ntsc, CaptureRate: t.rate, Latency: t.interval}, err
}
