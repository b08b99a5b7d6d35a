package calibrate

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"latchproof/harness/judge"
)

// findPicture decides where the active picture lies and which fields there are.
func (c *check) findPicture() {
	s := c.survey
	c.bounds, c.edged = s.edges()
	c.active = c.info.Active
	if c.edged {
		c.active = c.bounds.rect()
	}
	c.fields, c.woven = s.weave.order()
	if c.woven && c.fields.Woven() && !c.twoLines() {
		c.fields = judge.NoFields // too few lines for two fields
	}
	if !c.woven && c.info.Fields != "" {
		c.fields = c.info.Fields
	}
}

// twoLines says whether the picture has two lines for each of the raster's.
func (c *check) twoLines() bool {
	h := c.survey.size.Y
	if !c.active.Empty() {
		h = c.active.Dy()
	}
	return float64(h) > 1.9*float64(c.o.Spec.Console.Height)
}

// tellPicture adds the findings about size, place and fields.
func (c *check) tellPicture() {
	s, p := c.survey, c.o.Spec.Console
	b := c.bounds
	if !c.edged {
		c.report.add("picture.active", Untold, "", "the edges are too dark to be seen in %d pictures of %dx%d", s.n, s.size.X, s.size.Y)
	} else {
		sx, sy := (b.x1-b.x0)/float64(p.Width), (b.y1-b.y0)/float64(p.Height)
		text := fmt.Sprintf("[%.2f, %.2f, %.2f, %.2f] in %dx%d, %.3f by %.3f captured pixels for one of the raster",
			b.x0, b.y0, b.x1-b.x0, b.y1-b.y0, s.size.X, s.size.Y, sx, sy)
		var advice []string
		if b.fraction() > 0.2 {
			advice = append(advice, "the picture does not begin at whole pixels: fine for judging, but sharper when the card's position or size is set so that it does")
		}
		if was := c.info.Active; !was.Empty() && farther(b, was) > 0.6 {
			advice = append(advice, fmt.Sprintf("the bench says [%d, %d, %d, %d]: write the new one into the bench file (--write)", was.Min.X, was.Min.Y, was.Dx(), was.Dy()))
		}
		if sx/sy < 0.45 || sx/sy > 2.2 || sx < 0.99 || sy < 0.99 {
			advice = append(advice, fmt.Sprintf("that is no usual shape for a raster of %dx%d: a dark edge of the game may be taken for the border; use a program with bright edges", p.Width, p.Height))
		}
		c.report.add("picture.active", lookIf(len(advice) > 0), strings.Join(advice, "; "), "%s", text)
	}
	switch was := c.info.Fields; {
	case !c.woven:
		c.report.add("picture.fields", Untold, "", "too little moves to tell fields")
	default:
		if was == "" {
			was = judge.NoFields
		}
		c.report.add("picture.fields", lookIf(c.fields != was), fmt.Sprintf("the bench says %q: write the new one into the bench file (--write)", was),
			"%s", map[judge.Fields]string{
				judge.NoFields: "none: all lines are of one moment", judge.TopFirst: "two fields, the top one first", judge.BottomFirst: "two fields, the bottom one first",
			}[c.fields])
	}
	if border := s.border; c.edged && !math.IsNaN(border) {
		c.report.add("colour.black", lookIf(border > 5), "the border should be black (0): set the card's brightness to neutral and its range right; 16 means limited range taken for full",
			"the border is at %.1f levels", border)
	}
}

// farther is how far the edge that moved most moved, captured pixels.
func farther(b bounds, was image.Rectangle) float64 {
	return max(math.Abs(b.x0-float64(was.Min.X)), math.Abs(b.y0-float64(was.Min.Y)),
		math.Abs(b.x1-float64(was.Max.X)), math.Abs(b.y1-float64(was.Max.Y)))
}

// tellCard adds the findings about the card's times.
func (c *check) tellCard() {
	var hz, jitter []float64
	lost, pictures, worst := 0, 0, 0.0
	for _, t := range c.takes {
		s := t.clock.Summary()
		if s.CaptureHz > 0 {
			hz = append(hz, s.CaptureHz/float64(instantsPer(c.fields)))
		}
		jitter = append(jitter, s.StampJitter)
		worst = max(worst, lateness(t))
		lost, pictures = lost+s.LostPictures, pictures+s.Captures
	}
	if len(hz) == 0 {
		c.report.add("card", Cannot, "the card's times keep to no rate: choose a fixed rate in the capture program", "no picture rate could be found")
		return
	}
	c.rate = quantile(hz, 0.5)
	r, ppm := nearestRate(c.rate, c.o.Spec.Console)
	amiss := math.Abs(ppm) > 150
	advice := "the card's rate is not a usual one: choose a fixed rate in its settings"
	if was := c.info.CaptureRate; was > 0 && math.Abs(c.rate/was-1) > 300e-6 {
		amiss, advice = true, fmt.Sprintf("the bench says %.4f Hz: write the new one into the bench file (--write)", was)
	}
	c.report.add("card.rate", lookIf(amiss), advice, "%.4f Hz, %+.1f ppm from %s Hz, %s", c.rate, ppm, r.rate, r.name)
	c.report.add("card.jitter", lookIf(quantile(jitter, 0.5) > 5e2 || worst > 1e3),
		"pictures are stamped late by turns: close other programs, raise the capture's priority, use the driver's own stamps; frames near a boundary cannot be told",
		"stamps are off by %.0f µs RMS, one in twenty by %.0f µs", quantile(jitter, 0.5), worst)
	c.report.add("card.drops", lookIf(lost > 0), "the card or the computer loses pictures: use a faster port and disk, close other programs, choose a smaller picture or a quicker codec",
		"%d of %d pictures are missing from the card's row", lost, lost+pictures)
}

// lateness is by how much one stamp in twenty is off the card's row, microseconds.
func lateness(t *take) float64 {
	var off []float64
	stamps := judge.NoFields.Instants(t.stamps)
	per := len(t.clock.Captures) / max(len(stamps), 1)
	for i, s := range stamps {
		if k := i * per; per > 0 && k < len(t.clock.Captures) {
			off = append(off, math.Abs(float64(s-t.clock.Captures[k].Instant))/1e3)
		}
	}
	return quantile(off, 0.95)
}

// tellPictures adds the findings from holding the runs against one another.
func (c *check) tellPictures(a *album, n tally) {
	runs := len(a.takes)
	c.report.add("card.repeats", lookIf(n.repeated > 0), "the card gives old pictures again: choose its rate so that it need not, use a faster port, switch frame-rate conversion off",
		"%d of %d pictures are the one before once more", n.repeated, n.pictures)
	c.report.add("card.signal", lookIf(n.signal > 0), "the card loses the signal at times: check the video cable, plug and the console's video output",
		"%d pictures without content where other runs show the game", n.signal)
	c.report.add("card.torn", lookIf(n.torn > 0), "pictures are put together of two: switch on synchronisation in the capture program, use another capture mode",
		"%d pictures are of two moments", n.torn)
	c.report.add("card.damaged", lookIf(n.decoder > 0 || n.odd > 0), "pictures are hurt: check the card's port and cable, its bit rate and the disk; when only the same place of the picture is hit, it may be the console",
		"%d pictures that the decoder calls damaged, %d with a region that no other run shows", n.decoder, n.odd)
	var parted []string
	for _, t := range n.parted {
		parted = append(parted, fmt.Sprintf("run %d from frame %.0f", t.number, t.parts))
	}
	starts := resets(a.takes)
	c.report.add("reset.same", lookIf(len(parted) > 0 || starts != ""),
		"two resets do not give the same run: the game may depend on power-on memory (use `start: power`, or a program that does not), or reads, reset line or console are at fault",
		"%d runs of the same programs, %s", runs, orElse(strings.Join(append(parted, nonEmpty(starts)...), ", "), "all show the same"))
}

func nonEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// resets says whether runs of the same program have different lag frames.
func resets(takes []*take) string {
	for i, t := range takes {
		for _, o := range takes[:i] {
			if o.press == t.press && !slices.Equal(o.fit.LagFrames(), t.fit.LagFrames()) {
				return fmt.Sprintf("runs %d and %d lag on different frames", o.number, t.number)
			}
		}
	}
	return ""
}

// tellNoise adds the findings about noise and composite colour.
func (c *check) tellNoise() {
	var all []noisePair
	var ratios []float64
	for _, t := range c.takes {
		all = append(all, t.noise...)
		ratios = append(ratios, t.waves.ratio())
	}
	n, ok := noiseOf(all)
	if !ok {
		c.report.add("picture.noise", Untold, "", "no two pictures follow one another")
		return
	}
	c.noise = &n
	c.report.add("picture.noise", lookIf(n[0] > 4 || n[1] > 6 || n[2] > 6), "use a shorter, shielded video cable, a better output of the console, or another power supply: noise hides small differences",
		"%.2f, %.2f, %.2f levels RMS of Y, Cb, Cr on the raster", n[0], n[1], n[2])
	r := quantile(ratios, 0.5)
	c.report.add("picture.crosstalk", lookIf(r > 2.5), "colour shows as a crawling pattern, as composite video does: use the console's better output (S-Video, RGB), if it has one; phases differ from run to run, which hides small differences",
		"a pattern of a third of a cycle in a dot is %.1f times what lies beside it", r)
}

// tellDrift adds how much the brightness of pictures of the same frame differs.
func (c *check) tellDrift(a *album) {
	var off []float64
	for _, t := range a.takes {
		others := a.others(t)
		for i := range t.shots {
			s := &t.shots[i]
			if i%3 != 0 || s.bad || s.f == nil || s.flat || s.u >= t.parts || s.u < 0 || s.mean < 40 {
				continue
			}
			best, at := math.Inf(1), (*shot)(nil)
			for _, o := range others {
				o.around(s.u, 1, func(r *shot) {
					if d := distance(s, r); d < best {
						best, at = d, r
					}
				})
			}
			if at != nil && best <= a.limit {
				off = append(off, s.mean/at.mean-1)
			}
		}
	}
	if len(off) == 0 {
		return
	}
	sum := 0.0
	for _, x := range off {
		sum += x * x
	}
	drift := 100 * math.Sqrt(sum/float64(len(off))/2)
	c.report.add("colour.drift", lookIf(drift > 0.8), "brightness or gain change while nothing changes: switch off the card's automatic gain, let everything warm up",
		"%.2f %% RMS between pictures of the same frame", drift)
}
