package calibrate

import (
	"errors"
	"math"
	"slices"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/specs/console"
)

// linkAdvice is what to do about an error of the link.
func linkAdvice(err error) string {
	switch {
	case errors.Is(err, feeder.ErrPort):
		return "check the port's name and rights in the bench file, and that no other program holds it"
	case errors.Is(err, feeder.ErrProtocol):
		return "put the firmware on the board that speaks this program's protocol"
	case errors.Is(err, feeder.ErrGone):
		return "check the board's cable and plug, and its power"
	case errors.Is(err, feeder.ErrSilent):
		return "check the board's power, its firmware and the port's name; press its reset"
	case errors.Is(err, feeder.ErrDamaged):
		return "log records were lost or hurt on the serial line: use a shorter or shielded cable, another port, and no hub"
	case errors.Is(err, feeder.ErrFault):
		return "the board says itself what is wrong: check its reset and power lines"
	}
	return "look at what the error says"
}

// tellLink adds the findings about link and board.
func (c *check) tellLink(failed []error) {
	if len(failed) > 0 {
		c.report.add("link", Cannot, linkAdvice(failed[0]), "%d of %d runs did not come to their end: %s", len(failed), c.report.Runs, failed[0])
	} else {
		c.report.add("link", OK, "", "%d runs came to their end", c.report.Runs)
	}
	if len(c.records) == 0 {
		return
	}
	first := c.records[0].board
	same := !slices.ContainsFunc(c.records, func(r *record) bool { return r.board != first })
	known := c.info.Feeder.Serial == "" || c.info.Feeder.Serial == first.Serial
	c.report.add("link.identity", lookIf(!same || !known), "the board is not the one that the bench file names, or changes from run to run: check which port is which",
		"board %s, serial %s, firmware %s, protocol %d", first.Board, first.Serial, first.Firmware, first.Protocol)
	var trips []float64
	underruns := 0
	for _, r := range c.records {
		for _, s := range r.syncs {
			trips = append(trips, float64(s.Received-s.Sent))
		}
		underruns += len(r.outcome.Underruns)
	}
	c.report.add("link.trip", lookIf(quantile(trips, 0.5) > 2e7), "the link is slow: connect the board directly, without a hub, and set the port's latency timer low",
		"round trip %s at best, %s in the middle, %s at worst", ms(time.Duration(quantile(trips, 0))), ms(time.Duration(quantile(trips, 0.5))), ms(time.Duration(quantile(trips, 1))))
	c.report.add("link.underrun", lookIf(underruns > 0), "the board ran out of program and served released buttons: the host or the line is too slow; close other programs, use a direct port",
		"%d latch pulses served without program", underruns)
	c.tellService()
	c.tellBoardClock()
}

// tellService adds how fast the board served, if it tells.
func (c *check) tellService() {
	var took []float64
	late := 0
	for _, r := range c.records {
		for _, s := range r.outcome.Service {
			took = append(took, float64(s.Latency)/1e3)
			if s.Late {
				late++
			}
		}
	}
	if len(took) == 0 {
		c.report.add("link.service", OK, "", "the board does not tell how fast it serves")
		return
	}
	c.report.add("link.service", lookIf(late > 0), "the console reads the first button before the board has put it out: shorten what the firmware does before it serves a latch pulse, and let no other interrupt hold it up",
		"first bit %.1f µs after the latch pulse begins in the middle, %.1f µs at worst; late for %d of %d pulses", quantile(took, 0.5), quantile(took, 1), late, len(took))
}

// tellBoardClock adds what the time exchanges say of the board's clock.
func (c *check) tellBoardClock() {
	var ppm []float64
	half := 0.0
	for _, r := range c.records {
		l, err := clock.FitBoard(r.syncs)
		if err != nil {
			c.report.add("board.clock", Cannot, "replace the board's crystal or its clock settings", "run %d: %s", r.number, err)
			return
		}
		ppm = append(ppm, (1/l.Rate-1)*1e6)
		half = max(half, l.RateHalf*1e6)
	}
	middle := quantile(ppm, 0.5)
	spread := quantile(ppm, 1) - quantile(ppm, 0)
	c.report.add("board.clock", lookIf(middle > 100 || middle < -100), "the board's clock is farther off than a crystal is: check that its firmware runs from the crystal, not from an RC oscillator",
		"%+.1f ppm against the host's clock", middle)
	c.report.add("board.steady", lookIf(spread > max(4, 2*half)), "the board's clock wanders: let it warm up and keep it from draughts, or give it a better crystal",
		"%.1f ppm between runs, told to %.1f ppm", spread, half)
}

// readsAlone fits the reads of a run without pictures.
func (t *take) readsAlone(p console.Profile) (err error) {
	t.events = clock.Group(t.latches, p.BurstGap)
	if t.fit, err = clock.FitReads(t.events, p.Rate); err != nil {
		return err
	}
	t.line, err = clock.FitBoard(t.syncs)
	return err
}

// tellReads adds the findings about the console's reads.
func (c *check) tellReads() {
	if len(c.takes) == 0 {
		c.report.add("reads", Cannot, "check the latch and clock lines, their levels and ground, and that the game reads its controller", "no run's reads keep to frames")
		return
	}
	var ppm, own, jitter []float64
	var lag, extra, doubles, reads, odd, mixed int
	lags := map[int]bool{}
	told := 0.0 // standard error of a run's rate, ppm
	for _, t := range c.takes {
		ppm = append(ppm, (1/(t.period()*c.o.Spec.Console.Rate.Hz())-1)*1e6)
		own = append(own, t.fit.PPM)
		told = max(told, slopeError(t.fit.Jitter.Seconds(), t.fit.Period, t.fit.Reads()))
		jitter = append(jitter, float64(t.fit.Jitter))
		n := len(t.fit.LagFrames()) + len(t.fit.LateReads())
		lags[n] = true
		lag, extra, doubles, reads = lag+n, extra+len(t.fit.ExtraReads()), doubles+t.fit.Doubles, reads+t.fit.Reads()
		for _, e := range t.events {
			odd += e.OddClocks
			if e.Mixed {
				mixed++
			}
		}
	}
	middle := quantile(ppm, 0.5)
	c.report.add("reads.rate", lookIf(middle > 60 || middle < -60), "the console's crystal is far off, or the profile is another console's: check the profile's rate; clocks of runs are measured, so this alone does no harm",
		"%+.1f ppm from the profile's %s Hz", middle, c.o.Spec.Console.Rate)
	spread := quantile(own, 1) - quantile(own, 0)
	c.report.add("reads.steady", lookIf(spread > max(4, 5*told)), "the console's clock, or the board's, wanders from run to run: let the bench warm up, keep it from draughts",
		"%.1f ppm between runs by the board's clock, each told to %.1f ppm RMS", spread, told)
	c.report.add("reads.jitter", lookIf(quantile(jitter, 0.5) > 1e6), "the game reads at odd moments in its frame: choose a scene in which it does not, or check the latch line's edges",
		"%.0f µs RMS about the frame", quantile(jitter, 0.5)/1e3)
	c.report.add("reads.missing", lookIf(lag > 0), "the game lags there, or the board misses reads: choose a program in which the game does not lag; if it remains, check level and edge of the latch line",
		"%d frames without a read on %d reads%s", lag, reads, unequal(len(lags) > 1))
	c.report.add("reads.extra", lookIf(extra > 0), "the board sees reads that the game never made: check the latch line for ringing and its ground, and raise the profile's burst_gap if the game reads more than once",
		"%d reads beyond one in a frame", extra)
	c.report.add("reads.double", lookIf(doubles > 0), "fine when the game is known to read twice; otherwise check the latch line for bounce",
		"%d reads of several latch pulses", doubles)
	c.report.add("reads.clocks", lookIf(odd > 0 || mixed > 0), "extra edges on the clock line shift all later buttons: shorten the line, add a series resistor, mind its ground",
		"%d latch pulses with clock pulses that are no multiple of 8", odd)
}

// slopeError is the standard error of the period that a least-squares line through
// n reads finds, relative to it in parts per million, when each read is off by
// sigma seconds: sigma/sqrt(sum (x-mean)^2) with x evenly spaced by the period
// (any textbook on regression).
func slopeError(sigma, period float64, n int) float64 {
	if n < 2 {
		return math.Inf(1)
	}
	return 1e6 * sigma / period * math.Sqrt(12/(float64(n)*(float64(n)*float64(n)-1)))
}

func unequal(x bool) string {
	if x {
		return ", not the same in all runs"
	}
	return ""
}
