package harness

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"latchproof/harness/checks"
	"latchproof/harness/stats"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// ShrunkFiles are the names of the files that a search for a spec writes.
func ShrunkFiles(sp *specs.Spec) (program, spec, steps string) {
	name := folderName(sp.Name)
	return name + "-short.prog", name + "-short.spec.yaml", "shrink.json"
}

// finish confirms the shortest program, unless the search was broken off, and
// writes it.
func (s *Shrinker) finish(ctx context.Context, sp *specs.Spec, res *Shrunk, p *program.Program, base int64, broken error) error {
	progFile, specFile, _ := ShrunkFiles(sp)
	p = p.Preface(
		fmt.Sprintf("Shrunk by latchproof %s from %s of the spec %s, %d reads:", s.Version, oneWord(sp.ProgramFile), sp.Name, sp.Program.Reads()),
		"hash "+sp.Program.Hash()+".",
		fmt.Sprintf("Its repeats part on %s, kind %s, as those of the original do.", oneWord(res.Bench), s.kindName()), "")
	// What is played and told of is the program as it is written, with its lines.
	p, err := program.Parse(progFile, p.Format(), sp.Console, program.Limits{Reads: p.Reads()})
	if err != nil {
		return errors.Join(broken, err)
	}
	res.program = p
	res.Result = &ShrunkProgram{Hash: p.Hash(), Reads: p.Reads(), Statements: statements(p.Parts())}
	if broken == nil {
		s.say("%d reads left of %d; playing them anew", p.Reads(), sp.Program.Reads())
		last, err := s.series(ctx, p, s.tail, base, false)
		if err != nil {
			broken = err
		} else {
			res.Result = &last.told
		}
	}
	res.Result.Program, res.Result.Spec = progFile, specFile
	if res.Result.Parted > 0 {
		res.Verdict = Shrunken
	}
	res.Sentences = s.sentences(res, broken)
	return errors.Join(broken, s.write(sp, res))
}

func (s *Shrinker) kindName() string {
	if s.AnyKind {
		return "any"
	}
	return string(s.kind)
}

// oneWord is a text without what would end a comment's line.
func oneWord(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return '?'
		}
		return r
	}, text)
}

func (s *Shrinker) sentences(res *Shrunk, broken error) []string {
	o, r := &res.Original, res.Result
	out := []string{
		fmt.Sprintf("The original, %s in %s: %s.", several(o.Reads, "read"), several(o.Statements, "statement"), o.where()),
		fmt.Sprintf("Left after %s: %s in %s.", several(len(res.Steps), "step"), several(r.Reads, "read"), several(r.Statements, "statement")),
	}
	switch {
	case broken != nil && r.Repeats == 0:
		out = append(out, "It was not confirmed: "+oneLine(broken)+".")
	case r.Parted == 0:
		out = append(out, "It is not confirmed: "+r.count()+" when it was played anew.")
	default:
		out = append(out, fmt.Sprintf("Played anew: %s; the rate is from %s to %s at 95 %%.", r.where(), Percent(r.Low), Percent(r.High)))
	}
	if res.Minimal {
		out = append(out, "Without any one of its statements, buttons, reads or passes of a repeat it was not seen to part.")
	} else {
		out = append(out, "The search ended before it was done: "+res.Ended+". It may become shorter still.")
	}
	down := fmt.Sprintf("%s turned down because the repeats stayed together, %d of each", several(res.Refused, "candidate"), res.PerStep)
	if res.Refused == 0 {
		down = "No candidate was turned down because its repeats stayed together"
	} else {
		down += fmt.Sprintf("; one that parts with a rate of %s is turned down by mistake with a chance of %s at most, so up to %.1f mistakes are to be expected, which can leave the program longer than need be",
			Percent(res.Rate), Percent(res.WrongAtMost), float64(res.Refused)*res.WrongAtMost)
	}
	out = append(out, down+".")
	if res.Untold > 0 {
		out = append(out, several(res.Untold, "candidate")+" turned down because nothing could be told.")
	}
	return out
}

// several is a number of things.
func several[N int | int64](n N, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// count says how many repeats parted.
func (p *ShrunkProgram) count() string {
	text := fmt.Sprintf("%d of %d repeats parted from the first run", p.Parted, p.Repeats)
	if p.LeftOut > 0 {
		text += fmt.Sprintf(", %d were left out", p.LeftOut)
	}
	return text
}

// where says so and where the first of them parts.
func (p *ShrunkProgram) where() string {
	if p.Parted == 0 {
		return p.count()
	}
	text := fmt.Sprintf("%s, first on frame %d, read %d, kind %s, points to: %s", p.count(), p.Frame, p.Read, p.Kind, p.Part)
	if p.Line > 0 {
		return text + fmt.Sprintf(", program line %d", p.Line)
	}
	return text + ", after the program's end"
}

// write writes the program, its spec and the steps, and reads the spec back.
func (s *Shrinker) write(sp *specs.Spec, res *Shrunk) error {
	progFile, specFile, stepsFile := ShrunkFiles(sp)
	files := map[string][]byte{progFile: res.program.Format()}
	consoleName := sp.ConsoleName
	if _, builtin := console.Builtin(consoleName); !builtin {
		src, err := specs.Folder{Dir: sp.Dir}.Read(consoleName, specs.MaxProfileBytes)
		if err != nil {
			return err
		}
		consoleName = filepath.Base(consoleName)
		files[consoleName] = src
	}
	files[specFile] = s.specText(sp, res, consoleName)
	all, err := json.MarshalIndent(res, "", "  ")
	if err != nil {
		return err
	}
	files[stepsFile] = append(all, '\n')
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(s.Out, name), text, 0o666); err != nil {
			return err
		}
	}
	_, err = specs.Load(filepath.Join(s.Out, specFile), checks.All)
	return err
}

// specText is a spec that judges lockstep alone.
func (s *Shrinker) specText(sp *specs.Spec, res *Shrunk, consoleName string) []byte {
	var b strings.Builder
	for _, line := range res.Sentences {
		fmt.Fprintf(&b, "# %s\n", oneWord(line))
	}
	name := []rune(sp.Name)
	const ending = "-short"
	name = name[:min(len(name), 80-len(ending))]
	line := func(key string, value any) {
		if text, ok := value.(string); ok {
			quoted, _ := json.Marshal(text) // a YAML double-quoted scalar is a superset of a JSON string
			value = string(quoted)
		}
		fmt.Fprintf(&b, "%s: %v\n", key, value)
	}
	line("version", specs.Version)
	line("spec", strings.TrimSpace(string(name))+ending)
	line("about", "The shortest program found whose repeats part as those of "+sp.Name+" do.")
	line("program", res.Result.Program)
	line("console", consoleName)
	line("start", sp.Start)
	line("repeats", s.suggested(res))
	if sp.Timeout > 0 {
		line("timeout", sp.Timeout.String())
	}
	line("tail", s.tail)
	return []byte(b.String())
}

// maxSuggested keeps a suggestion to what one plays at a sitting.
const maxSuggested = 100

// suggested is how many repeats a spec asks for to be seen to part.
func (s *Shrinker) suggested(res *Shrunk) int64 {
	rate := res.Result.Groups.Low
	if rate == 0 {
		rate = res.Rate
	}
	if rate >= 1 {
		return 2
	}
	n, err := stats.RepeatsNeeded(rate, s.Confidence)
	if err != nil {
		return maxSuggested
	}
	return min(n+1, maxSuggested)
}
