package harness

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"time"

	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/stats"
	"latchproof/reports"
	"latchproof/specs/console"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// Report gathers what the cases found for a report. Call it before the runs
// are released. The pictures around the divergences that are shown are decoded
// from the videos of the runs.
func Report(title, version string, cases []*Case) (reports.Session, error) {
	return report(context.Background(), title, version, cases)
}

func report(ctx context.Context, title, version string, cases []*Case) (reports.Session, error) {
	s := reports.Session{Title: title, Made: time.Now().UTC().Truncate(time.Second), Version: version}
	for i, c := range cases {
		if i == 0 {
			s.Bench = reportBench(c.Bench)
		}
		spec, err := reportCase(ctx, c)
		if err != nil {
			return s, err
		}
		s.Specs = append(s.Specs, spec)
	}
	return s, nil
}

func reportBench(b BenchInfo) reports.Bench {
	part := func(p Part) string {
		var words []string
		for _, w := range []struct{ name, value string }{{"", p.Model}, {"revision ", p.Revision}, {"firmware ", p.Firmware}, {"serial ", p.Serial}} {
			if w.value != "" {
				words = append(words, w.name+w.value)
			}
		}
		return strings.Join(words, ", ")
	}
	out := reports.Bench{
		Name: b.Name, Console: part(b.Console), Feeder: part(b.Feeder), Card: part(b.Card),
		Simulated: b.Simulated, RateHz: b.CaptureRate, Latency: "not calibrated",
		ConsoleSerial: b.Console.Serial, FeederRevision: b.Feeder.Revision, FeederFirmware: b.Feeder.Firmware, FeederSerial: b.Feeder.Serial,
	}
	if b.Latency != 0 || b.LatencyHalf != 0 {
		out.Latency = fmt.Sprintf("%.2f ms ± %.2f ms", b.Latency.Seconds()*1e3, b.LatencyHalf.Seconds()*1e3)
	}
	return out
}

func reportCase(ctx context.Context, c *Case) (reports.Spec, error) {
	sp, steps := c.Spec, c.Steps()
	runs, errs := c.Runs()
	out := reports.Spec{
		Name: c.Name(), About: sp.About, File: sp.File,
		ProgramFile: sp.ProgramFile,
		Console:     sp.Console.Name, Verdict: c.Verdict(), Sentence: c.Sentence(), Note: c.Note,
		Warnings: append(append([]string{}, steps.Warnings...), steps.Left...),
	}
	if sp.Program != nil {
		out.ProgramHash, out.Reads = sp.Program.Hash(), sp.Program.Reads()
	}
	for _, e := range errs {
		out.Warnings = append(out.Warnings, oneLine(e))
	}
	var err error
	if out.Lockstep, err = reportLockstep(c, steps); err != nil {
		return out, err
	}
	family := map[string]int{}
	for i, f := range steps.Families {
		for _, n := range f.Runs {
			family[n] = i
		}
	}
	byName := map[string]*Run{}
	for _, r := range runs {
		byName[r.Name] = r
		fam, ok := family[r.Name]
		if !ok {
			fam = -1
		}
		out.Repeats = append(out.Repeats, reportRun(r, fam))
	}
	for _, r := range runs {
		if t := r.Timing; t != nil {
			out.Timings = append(out.Timings, reports.Timing{
				Repeat: r.Name, Verdict: string(t.Verdict), Frames: t.Frames, Seconds: t.Seconds,
				Low: t.Low, High: t.High, Why: t.Why, Clock: t.Clock,
			})
		}
	}
	if out.ReadTiming, err = readTimings(runs); err != nil {
		return out, err
	}
	if out.Flash, err = reportFlash(steps, byName, sp.Console.Rate.Hz()); err != nil {
		return out, err
	}
	spreads := c.Spreads()
	for i, cp := range sp.Checkpoints {
		rc := reports.Checkpoint{Name: cp.Name, Kind: cp.Kind, At: cp.At.String()}
		vs := []judge.Verdict{}
		for _, r := range runs {
			if i >= len(r.Results) {
				continue
			}
			res := r.Results[i]
			rc.Asks = res.Describe
			vs = append(vs, res.Verdict)
			rr, err := reportResult(r.Name, res)
			if err != nil {
				return out, err
			}
			rc.Results = append(rc.Results, rr)
			if rc.Templates == nil {
				rc.Templates = templatePictures(sp.Dir, res.Templates)
			}
		}
		if s := spreads[i]; s != nil {
			rc.Spread = s.String()
		}
		rc.Verdict = string(judge.Worst(vs...))
		if len(vs) == 0 {
			rc.Verdict = string(judge.Unseen)
		}
		out.Checkpoints = append(out.Checkpoints, rc)
	}
	for i, f := range steps.Families {
		if f.Parted != nil {
			out.Divergences = append(out.Divergences, reportDivergence(c, i, f.Parted, byName))
		}
	}
	notes, err := addWindows(ctx, c, out.Divergences, byName)
	if err != nil {
		return out, err
	}
	out.Warnings = append(out.Warnings, notes...)
	for _, x := range steps.Suspects {
		out.Suspects = append(out.Suspects, reports.Suspect{Frame: int64(x.Frame), A: x.A, B: x.B, Kind: string(x.Kind), Region: regionOf(x.Region)})
	}
	return out, nil
}

func regionOf(r image.Rectangle) *[4]int {
	if r.Empty() {
		return nil
	}
	return &[4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()}
}

func reportLockstep(c *Case, s *Steps) (reports.Lockstep, error) {
	in, compared, _ := s.InStep()
	out := reports.Lockstep{
		InStep: in, Repeats: compared, Required: c.Required(), Held: in >= c.Required(),
		Frames: s.Frames, Unseen: s.Unseen, High: 1,
	}
	// The first run is the reference, so it cannot fail to be in lockstep with
	// itself: the rate is that of the others.
	if compared > 1 {
		if iv, err := stats.ClopperPearson(int64(in-1), int64(compared-1), 0.95); err == nil {
			out.Low, out.High = iv.Low, iv.High
		}
	}
	for _, f := range s.Families {
		rf := reports.Family{Repeats: f.Runs, From: int64(f.From), Parent: f.Parent}
		if f.Parted != nil {
			rf.Kind, rf.Why = string(f.Parted.Kind), f.Parted.Why
		}
		out.Families = append(out.Families, rf)
	}
	var err error
	out.Survival, err = Survival(Lifetimes(s.Lives, c.assumed), s.Frames)
	return out, err
}

func reportRun(r *Run, family int) reports.Repeat {
	return reports.Repeat{
		Name: r.Name, Folder: r.Dir, Verdict: string(r.Verdict().Verdict), Family: family, State: string(r.State),
		Clock: string(r.Clock.State), ClockWhy: r.Clock.Why, PPM: r.Clock.PPM, JitterUS: r.Clock.ReadJitter,
		Frames: int64(r.Counts.Frames), Reads: int64(r.Clock.Reads), LagFrames: len(r.Lag),
		Pictures: r.Counts.Pictures, Unseen: r.Counts.Unseen, CardRepeat: r.Counts.Repeats, Unsure: r.Counts.Unsure,
		Seconds:  frameSeconds(r.Counts.Frames, r.Clock.FrameHz),
		Problems: r.Problems, UnseenFrames: r.Unseen, LagAt: r.Lag,
	}
}

func frameSeconds(frames int, hz float64) float64 {
	if hz <= 0 {
		return 0
	}
	return float64(frames) / hz
}

func reportResult(repeat string, res judge.Result) (reports.Result, error) {
	out := reports.Result{
		Repeat: repeat, Verdict: string(res.Verdict), Frame: int64(res.Frame), Score: res.Score,
		Threshold: res.Threshold, At: (*[2]int)(res.At), Why: res.Why, Clock: res.Clock,
		Value: valueText(res.Value), ThresholdBy: res.ThresholdBy, Noise: res.Noise, Unsure: res.Unsure,
	}
	if res.Seen == nil {
		return out, nil
	}
	pic, err := screenPicture(res.Seen, fmt.Sprintf("%s, frame %d: what was seen", repeat, res.Frame))
	if err != nil {
		return out, err
	}
	if !res.Box.Empty() {
		pic.Box = &[4]int{res.Box.Min.X, res.Box.Min.Y, res.Box.Dx(), res.Box.Dy()}
	}
	out.Seen = pic
	return out, nil
}

// valueText is a value in words; empty for none.
func valueText(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case [2]int:
		return fmt.Sprintf("(%d, %d)", v[0], v[1])
	}
	return fmt.Sprint(v)
}

func screenPicture(s *screen.Screen, alt string) (*reports.Picture, error) {
	var b bytes.Buffer
	if err := png.Encode(&b, s.ToImage()); err != nil {
		return nil, err
	}
	return &reports.Picture{Data: b.Bytes(), Type: "image/png", Alt: alt, W: s.W, H: s.H}, nil
}

// templatePictures are the template files; one that cannot be read is left
// out, for the run says so already.
func templatePictures(dir string, files []string) []reports.Picture {
	out := []reports.Picture{}
	for _, f := range files {
		data, err := os.ReadFile(filepath.Join(dir, f))
		if err != nil {
			continue
		}
		cfg, err := png.DecodeConfig(bytes.NewReader(data))
		if err != nil {
			continue
		}
		out = append(out, reports.Picture{Data: data, Type: "image/png", Alt: "template " + f, W: cfg.Width, H: cfg.Height})
	}
	return out
}

// around is how many frames of reads are shown on either side of a divergence.
const around = 6

func reportDivergence(c *Case, family int, d *lockstep.Divergence, runs map[string]*Run) reports.Divergence {
	out := reports.Divergence{
		A: d.A, B: d.B, Family: family, Frame: int64(d.Frame), Since: int64(d.Since), Read: int64(d.Read),
		Kind: string(d.Kind), Why: d.Why, Try: advice[d.Kind],
		Shift: d.Shift, Stays: d.Stays, Part: string(d.Part), Region: regionOf(d.Region),
	}
	if Doubtful(d) != "" {
		out.Try = "Calibrate the bench's latency again, or play both runs again on the same bench: frames are counted by the reads, and the pictures do not come where the count says."
	}
	if d.Read >= 0 && c.Spec.Program != nil {
		out.ProgramLine = c.Spec.Program.LineAt(d.Read)
		out.ProgramText = programText(c, out.ProgramLine)
		out.Mark = markBefore(c.Spec.Program, d.Read)
	}
	a, b := runs[d.A], runs[d.B]
	if a == nil || b == nil {
		return out
	}
	out.PictureA, out.PictureB = stored(a, d.Frame), stored(b, d.Frame)
	centre := d.Frame
	if d.Kind == lockstep.KindInput {
		for _, r := range a.Reads {
			if r.Read == d.Read {
				centre = r.Frame
			}
		}
	}
	for f := max(centre-around, 0); f <= max(centre+around, d.Frame); f++ {
		ta, tb := readsIn(c.Spec.Console, a, f), readsIn(c.Spec.Console, b, f)
		if f > centre+around && f < d.Frame-2 {
			continue
		}
		out.ReadRows = append(out.ReadRows, reports.ReadAt{Frame: int64(f), A: ta, B: tb, Differ: ta != tb})
	}
	return out
}

// markBefore is the last mark of a program at or before a read, with the distance
// in reads; empty for none.
func markBefore(p *program.Program, r program.Read) (out string) {
	for _, m := range p.Marks() {
		if m.Read <= r {
			out = fmt.Sprintf("%s+%d", m.Name, r-m.Read)
		}
	}
	return out
}

// advice is what to try next, by kind of divergence.
var advice = map[lockstep.Kind]string{
	lockstep.KindInput:   "Look at the latch and clock wiring, the board's power and its log around this read, then play again: the console was given other buttons, so its picture had to part.",
	lockstep.KindPicture: "Both runs were given the same reads, so the console itself was in another state. Start from power instead of reset, wait longer before the first press, or change the program so that it does not depend on what memory holds at power-on.",
	lockstep.KindShift:   "The pictures are the same, only later or earlier: the console missed frames at one place and then went on as before. Look at the lag frames of both runs in the table below; a program that waits for the busy scene to pass, or a start from power instead of reset, often brings them together.",
	lockstep.KindEnd:     "One run stops before the other. Look at its problems: a cable, a capture that broke off, a console that stopped reading.",
}

func programText(c *Case, line int) string {
	if line <= 0 {
		return ""
	}
	if lines := programLines(c); line <= len(lines) {
		return strings.TrimSpace(lines[line-1])
	}
	return ""
}

// programLines is the text of the program; nil when it cannot be read.
func programLines(c *Case) []string {
	src := c.Spec.ProgramSource
	if src == nil {
		var err error
		if src, err = os.ReadFile(filepath.Join(c.Spec.Dir, c.Spec.ProgramFile)); err != nil {
			return nil
		}
	}
	return strings.Split(string(src), "\n")
}

func stored(r *Run, f console.Frame) *reports.Picture {
	if r.Store == nil {
		return nil
	}
	data, err := r.Store.JPEG(f)
	if err != nil {
		return nil
	}
	w, h := r.Spec.Console.Width, r.Spec.Console.Height
	return &reports.Picture{Data: data, Type: "image/jpeg", Alt: fmt.Sprintf("%s at frame %d", r.Name, f), W: w, H: h}
}

// readsIn says which reads fell in a frame of a run.
func readsIn(p console.Profile, r *Run, f console.Frame) string {
	var parts []string
	for _, e := range r.Reads {
		if e.Frame != f {
			continue
		}
		parts = append(parts, describeRead(p, e))
	}
	if len(parts) == 0 {
		return "no read"
	}
	return strings.Join(parts, "; ")
}

func describeRead(p console.Profile, e lockstep.ReadInfo) string {
	held := p.StateNames(e.State.P1)
	if held == "" {
		held = "nothing"
	}
	if e.State.P2 != 0 {
		held += " + p2:" + p.StateNames(e.State.P2)
	}
	s := fmt.Sprintf("read %d: %s", e.Read, held)
	if e.Pulses > 1 {
		s += fmt.Sprintf(", %d latch pulses", e.Pulses)
	}
	if e.Clocks%8 != 0 {
		s += fmt.Sprintf(", %d clocks", e.Clocks)
	}
	if e.Underrun {
		s += ", underrun"
	}
	return s
}
