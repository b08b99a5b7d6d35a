package calibrate

import (
	"errors"
	"fmt"
	"strings"

	"latchproof/harness"
	"latchproof/harness/feeder"
	"latchproof/specs"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// Names of the marks that a check program has, unless Options says another.
const (
	AnswerMark  = "answer"  // a press that the screen answers visibly
	ColoursMark = "colours" // a still scene that looks as the reference
)

// ErrProgram says that a program cannot serve for a check.
var ErrProgram = errors.New("this program cannot try a bench")

// Options are what is tried, and with what.
type Options struct {
	Bench harness.Bench
	// Spec brings program, console and kind of start. Its checkpoints are not
	// looked at.
	Spec *specs.Spec
	// Reference is the raster as the console makes it at the mark `colours`; nil:
	// gain, saturation and detail are not measured.
	Reference *screen.Screen
	// Repeats is how often each of the two programs is played, 2 to 1000.
	Repeats int
	// AnswerFrames is the game's own delay: 1 when the picture that belongs to
	// the read of the press shows the answer, 2 for the one after.
	AnswerFrames int
	// Mark is the name of the marks at presses; empty: AnswerMark.
	Mark string
	// Dir is where captures and read logs are put.
	Dir string
	// Link are the time-outs of the feeder link; zero values are sound.
	Link feeder.Options
	// Progress is told what is being done; may be nil.
	Progress func(what string, done, total int)
}

const (
	maxReads   = 20_000
	maxRepeats = 1000
)

func (o Options) check() error {
	switch {
	case o.Repeats < 2 || o.Repeats > maxRepeats:
		return fmt.Errorf("%d repeats; want 2 to %d", o.Repeats, maxRepeats)
	case o.AnswerFrames < 1 || o.AnswerFrames > 60:
		return fmt.Errorf("an answer after %d frames; want 1 to 60", o.AnswerFrames)
	case o.Spec.Program.Reads() > maxReads:
		return fmt.Errorf("%w: it has %d reads, and at most %d are expanded", ErrProgram, o.Spec.Program.Reads(), maxReads)
	}
	return nil
}

func (o Options) tell(what string, done, total int) {
	if o.Progress != nil {
		o.Progress(what, done, total)
	}
}

// pressed gives the reads at which presses are marked: those of the mark itself
// and of all whose name goes on after it with a hyphen.
func pressed(p *program.Program, mark string) (reads []program.Read) {
	for _, m := range p.Marks() {
		if m.Name == mark || strings.HasPrefix(m.Name, mark+"-") {
			reads = append(reads, m.Read)
		}
	}
	return reads
}

// without is the program with the marked presses taken out: the buttons that
// are down at a marked read and were not before are released until the program
// itself releases them. Everything else, and the length, stay.
func without(p *program.Program, reads []program.Read) ([]program.Run, error) {
	var all []program.State
	for _, r := range p.Runs() {
		for range r.Count {
			all = append(all, r.State)
		}
	}
	for _, r := range reads {
		var before program.State
		if r > 0 {
			before = p.At(r - 1)
		}
		now := p.At(r)
		p1, p2 := now.P1&^before.P1, now.P2&^before.P2
		if p1 == 0 && p2 == 0 {
			return nil, fmt.Errorf("%w: at its mark of read %d no button goes down", ErrProgram, r)
		}
		for i := int(r); i < len(all) && (p1 != 0 || p2 != 0); i++ {
			p1, p2 = p1&all[i].P1, p2&all[i].P2 // what is still down
			all[i].P1 &^= p1
			all[i].P2 &^= p2
		}
	}
	var runs []program.Run
	for _, s := range all {
		if n := len(runs); n > 0 && runs[n-1].State == s {
			runs[n-1].Count++
			continue
		}
		runs = append(runs, program.Run{State: s, Count: 1})
	}
	return runs, nil
}
