package calibrate

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"sync"
	"time"

	"latchproof/harness"
	"latchproof/harness/judge"
	"latchproof/specs/program"
)

// check is a check under way.
type check struct {
	o      Options
	info   harness.BenchInfo
	report *Report
	reads  []program.Read // marked presses

	records []*record // runs that came to their end
	takes   []*take   // those of them whose frames can be told
	survey  *survey
	active  image.Rectangle
	bounds  bounds
	edged   bool // the edges were found
	fields  judge.Fields
	woven   bool // fields were told from the pictures

	rate    float64 // measured, of the pictures in the file, hertz
	latency [2]time.Duration
	noise   *noisePair
	tone    *tone
	untoned string
}

// Check tries a bench. The error is about the options (ErrProgram), the disk, or
// the context; whatever is wrong with the bench is in the report.
func Check(ctx context.Context, o Options) (*Report, error) {
	if o.Mark == "" {
		o.Mark = AnswerMark
	}
	if o.AnswerFrames == 0 {
		o.AnswerFrames = 1
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	c := &check{o: o, info: o.Bench.Describe(), reads: pressed(o.Spec.Program, o.Mark)}
	c.report = &Report{Bench: c.info}
	if len(c.reads) == 0 {
		return nil, fmt.Errorf("%w: it has no mark `%s` (or `%s-...`) at a press", ErrProgram, o.Mark, o.Mark)
	}
	calm, err := without(o.Spec.Program, c.reads)
	if err != nil {
		return nil, err
	}
	if err := c.playAll(ctx, calm); err != nil {
		return nil, err
	}
	if err := c.see(ctx); err != nil {
		return nil, err
	}
	c.calibrate()
	return c.report, nil
}

// playAll plays both programs by turns and says what the link is like.
func (c *check) playAll(ctx context.Context, calm []program.Run) error {
	var failed []error
	total := 2 * c.o.Repeats
	for n := 1; n <= total; n++ {
		c.o.tell("playing", n-1, total)
		runs, press := calm, n%2 == 0
		if press {
			runs = c.o.Spec.Program.Runs()
		}
		rec, err := c.o.play(ctx, n, press, runs)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		c.report.Runs++
		if err != nil {
			if failed = append(failed, err); len(failed) == 2 {
				break
			}
			continue
		}
		c.records = append(c.records, rec)
	}
	c.tellLink(failed)
	return nil
}

// see looks at the captures, as far as there are any.
func (c *check) see(ctx context.Context) error {
	var first *record
	for _, r := range c.records {
		if r.video != "" && first == nil {
			first = r
		}
	}
	if first == nil {
		if len(c.records) > 0 {
			c.readsOnly()
			c.report.add("card", Look, "name the card in the bench file, or judge recordings with `latchproof import`", "the bench has no live capture: nothing was seen")
		}
		return nil
	}
	c.o.tell("looking for the picture", 0, 1)
	s, err := look(ctx, first.video)
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		c.readsOnly()
		c.report.add("card", Cannot, "look at the capture with another program; check cable, input and signal", "the capture cannot be read: %s", err)
		return nil
	}
	c.survey = s
	c.findPicture()
	if err := c.bring(ctx); err != nil {
		return err
	}
	c.tellReads()
	c.tellCard()
	c.tellPicture()
	if len(c.takes) < 2 {
		return nil
	}
	a := &album{takes: c.takes, first: float64(c.reads[0])}
	n := a.sortOut()
	c.tellPictures(a, n)
	period := c.takes[0].period()
	l := a.answers(c.reads, c.o.AnswerFrames)
	a.refine(&l)
	c.tellLatency(l, period)
	c.tellNoise()
	c.tellColour(c.tones(l))
	c.tellDrift(a)
	return nil
}

// readsOnly fits the reads of runs without pictures.
func (c *check) readsOnly() {
	for _, r := range c.records {
		t := &take{record: r, parts: math.Inf(1)}
		if t.readsAlone(c.o.Spec.Console) == nil {
			c.takes = append(c.takes, t)
		}
	}
	c.tellReads()
	c.takes = nil
}

// bring brings all runs to frames and features, two at a time.
func (c *check) bring(ctx context.Context) error {
	p := c.o.Spec.Console
	for _, r := range c.records {
		if r.video == "" {
			continue
		}
		t := &take{record: r}
		if err := t.clocks(p, c.fields, c.info.CaptureRate); err != nil {
			c.report.add("clock", Cannot, "without a frame clock nothing can be dated: mend the reads and the card's times first",
				"run %d gives no frame clock: %s", r.number, err)
			continue
		}
		c.takes = append(c.takes, t)
	}
	var wait sync.WaitGroup
	gate := make(chan struct{}, 2)
	errs := make([]error, len(c.takes))
	for i, t := range c.takes {
		wait.Add(1)
		gate <- struct{}{}
		c.o.tell("looking at the pictures", i, len(c.takes))
		go func() {
			defer func() { <-gate; wait.Done() }()
			errs[i] = t.look(ctx, p, c.active, c.fields, c.keep(t))
		}()
	}
	wait.Wait()
	return errors.Join(errs...)
}

// coloursFrame is the frame of the mark `colours` in a run; -1 when there is none.
func (c *check) coloursFrame(t *take) float64 {
	for _, m := range c.o.Spec.Program.Marks() {
		if f, ok := t.fit.FrameOfRead(m.Read); ok && m.Name == ColoursMark {
			return float64(f)
		}
	}
	return -1
}

const keepFrames = 3 // from the mark `colours` on, at which the scene stands

// keep names the pictures of a run that are held against the reference. The
// latency is not known yet: what the bench says, or what is usual, must do.
func (c *check) keep(t *take) map[int]bool {
	keep := map[int]bool{}
	at := c.coloursFrame(t)
	if c.o.Reference == nil || at < 0 {
		return keep
	}
	for i, s := range t.shots {
		if s.u >= at && s.u < at+keepFrames+12 {
			keep[i] = true
		}
	}
	return keep
}

// tones holds the kept pictures against the reference.
func (c *check) tones(l latency) (out []tone) {
	if c.o.Reference == nil {
		c.untoned = "there is no reference picture"
		return nil
	}
	c.untoned = "no picture is like the reference at the mark `" + ColoursMark + "`"
	noise := 0.0
	if c.noise != nil {
		noise = c.noise[0]
	}
	for _, t := range c.takes {
		at := c.coloursFrame(t)
		if at < 0 {
			c.untoned = "the program has no mark `" + ColoursMark + "`"
			continue
		}
		lo, hi := 3.0, 3.0 // frames; usual when nothing is known
		if l.ok {
			lo, hi = l.lo, l.hi
		}
		for i, got := range t.still {
			s := t.shots[i]
			if s.bad || s.damaged || s.u-hi < at || s.u-lo >= at+keepFrames {
				continue
			}
			if x := toneOf(c.o.Reference, got, noise); x.alike > 0.85 {
				out = append(out, x)
			}
		}
	}
	return out
}

// calibrate makes what can be written into the bench file.
func (c *check) calibrate() {
	if c.survey == nil || len(c.takes) == 0 {
		return
	}
	k := &harness.Calibration{
		Made: time.Now().UTC().Format(time.DateOnly), Card: c.info.Card, Console: c.info.Console,
		Latency: c.latency[0], LatencyHalf: c.latency[1], AnswerFrames: c.o.AnswerFrames,
	}
	if c.rate > 0 {
		s, ppm := nearestRate(c.rate, c.o.Spec.Console)
		k.Rate, k.RatePPM = fmt.Sprintf("%d/%d", s.rate.Num, s.rate.Den), ppm
	}
	if c.woven {
		k.Fields = c.fields
	}
	if c.edged {
		b := c.bounds
		k.Active, k.ActiveExact = c.active, [4]float64{b.x0, b.y0, b.x1 - b.x0, b.y1 - b.y0}
	}
	if c.noise != nil {
		k.Noise = c.noise[:]
	}
	if c.tone != nil {
		k.Gain, k.Offset, k.Saturation = &c.tone.gain, &c.tone.offset, &c.tone.saturation
	}
	c.report.Calibration = k
}
