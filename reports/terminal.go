package reports

import (
	"fmt"
	"io"
	"strings"

	"github.com/rivo/uniseg"
)

// TextOptions say how a summary is laid out.
type TextOptions struct {
	Width  int  // columns of the terminal; 0 for none: lines are as long as they are
	Colour bool // verdicts have a colour and stand out (ECMA-48, select graphic rendition)
}

// Lists of a summary are cut after so many lines, and say so.
const (
	maxTextFamilies = 20
	maxTextRows     = 200
	maxTextName     = 48 // columns of a name in a table
)

// WriteText writes a session as a summary for a terminal: the verdict with one
// sentence, a table of the specs when there are several, and for each spec what
// is to be known of it: families, the first divergence, its checkpoints as a
// table, notes. A soak and a check against a baseline have their rows.
//
// No text of the session reaches the terminal as a control: see Plain. Columns
// are aligned by the width of what is shown; with a Width, lines are wrapped
// between words and continue under the text that they belong to.
func WriteText(w io.Writer, s Session, o TextOptions) error {
	t := &texter{o: o}
	l := leadOf(s)
	t.b.WriteByte('\n')
	switch {
	case l.Spec >= 0 && s.Soak == nil:
		t.spec(s.Specs[l.Spec], l.Spec, false)
	case s.Baseline != nil:
		t.lead(l)
		t.baseline(*s.Baseline)
	case s.Soak != nil:
		t.lead(l)
		t.soak(*s.Soak)
		for i, sp := range s.Specs {
			t.b.WriteByte('\n')
			t.spec(sp, i, sp.Sentence == s.Soak.Sentence)
		}
		t.note("kept", s.Soak.Policy)
	default:
		t.lead(l)
		t.specs(s.Specs)
		for i, sp := range s.Specs[:min(len(s.Specs), maxTextRows)] {
			t.b.WriteByte('\n')
			t.spec(sp, i, false)
		}
	}
	_, err := io.WriteString(w, t.b.String())
	return err
}

// texter gathers a summary.
type texter struct {
	o TextOptions
	b strings.Builder
}

// lead is the verdict and the sentence, which may begin with the verdict itself.
func (t *texter) lead(l lead) {
	word, s := Plain(l.Tone.Word), Plain(l.Sentence)
	rest := ". " + s
	if len(s) > len(word) && strings.EqualFold(s[:len(word)], word) {
		rest = s[len(word):]
	}
	t.wrapped("", t.paint(l.Tone.Class, l.Tone.sign()+" "+word)+rest)
}

// paint gives a text the colour of a verdict: hues apart along blue and orange,
// as on the page, out of the eight that every terminal has.
func (t *texter) paint(class, s string) string {
	if !t.o.Colour {
		return s
	}
	n := map[string]string{"yes": "36", "no": "33", "unknown": "35"}[class]
	return "\x1b[1;" + n + "m" + s + "\x1b[0m"
}

func textName(s Spec, i int) string {
	if n := plain(s.Name, longName); n != "" {
		return n
	}
	return fmt.Sprintf("spec %d", i+1)
}

// specs is the table of several specs.
func (t *texter) specs(specs []Spec) {
	if len(specs) == 0 {
		return
	}
	g := grid{head: []string{"spec", "verdict", "in lockstep", "checkpoints passed", "first divergence"}}
	for i, s := range specs {
		v := toned(s.Verdict)
		g.row(v.Class, textName(s, i), v.sign()+" "+plain(v.Word, longName), inStep(s.Lockstep), passed(s), plain(partedAt(s), longName))
	}
	t.b.WriteByte('\n')
	t.grid(g, 1)
}

func (t *texter) spec(s Spec, i int, told bool) {
	v := toned(s.Verdict)
	t.wrapped("", textName(s, i)+": "+t.paint(v.Class, plain(s.Verdict, longName))+" "+v.sign())
	t.paragraph(s.Note, "(", ")")
	if !told {
		t.paragraph(s.Sentence, "", "")
	}
	fs := s.Lockstep.Families
	for j, f := range fs[:min(len(fs), maxTextFamilies)] {
		if len(fs) == 1 {
			break
		}
		t.wrapped("  ", fmt.Sprintf("family %d, from frame %d: %s", j+1, f.From, members(f)))
	}
	if n := len(fs) - maxTextFamilies; n > 0 {
		t.wrapped("  ", fmt.Sprintf("and %d families more", n))
	}
	if len(s.Divergences) > 0 {
		d := s.Divergences[0]
		at := fmt.Sprintf("first divergence: frame %d, read %d, kind %s, program line %d", d.Frame, d.Read, d.Kind, d.ProgramLine)
		if p := points[d.Part]; p != "" {
			at += ", points to " + p
		}
		t.wrapped("  ", Plain(at))
	}
	t.checkpoints(s.Checkpoints)
	for _, w := range s.Warnings {
		t.note("note", w)
	}
}

// members names the repeats of a family.
func members(f Family) string {
	const most = 20
	names := []string{}
	for _, n := range f.Repeats[:min(len(f.Repeats), most)] {
		names = append(names, plain(n, longName))
	}
	out := strings.Join(names, ", ")
	switch more := f.More + int64(max(len(f.Repeats)-most, 0)); {
	case more > 0 && out == "":
		return plural(more, "repeat", "repeats")
	case more > 0:
		return out + " and " + count(more) + " more"
	}
	return out
}

func (t *texter) checkpoints(cs []Checkpoint) {
	if len(cs) == 0 {
		return
	}
	g := grid{head: []string{"checkpoint", "at", ">pass", ">fail", ">unseen", ""}}
	for _, c := range cs[:min(len(cs), maxTextRows)] {
		n := c.counted()
		g.row(toned(c.Verdict).Class, plain(c.Name, longName), plain(c.At, longName), count(n.Pass), count(n.Fail), count(n.Unseen), Plain(c.why()))
	}
	t.grid(g, -1)
	if n := len(cs) - maxTextRows; n > 0 {
		t.wrapped("  ", fmt.Sprintf("and %d more", n))
	}
}

func (t *texter) soak(k Soak) {
	needed := count(k.CleanNeeded)
	if k.CleanNeeded < 0 {
		needed = "more than a million"
	}
	g := grid{head: []string{"claim", ">repeats", ">clean", ">parted", ">left out", ">clean needed"}}
	g.row("", plain(k.Claim, longName), count(k.Repeats), count(k.Clean), count(k.Parted), count(k.Left), needed)
	t.grid(g, -1)
}

func (t *texter) baseline(b Baseline) {
	for _, d := range b.Differs {
		t.wrapped("", "differs: "+Plain(d))
	}
	if len(b.Differs) == 0 {
		t.wrapped("", "differs: nothing; both benches say the same of every part")
	}
	for i, s := range b.Specs {
		t.b.WriteByte('\n')
		v := toned(s.Verdict)
		t.wrapped("", textName(Spec{Name: s.Name}, i)+": "+t.paint(v.Class, Plain(s.Verdict))+" "+v.sign())
		t.paragraph(s.Sentence, "", "")
		g := grid{head: []string{"verdict", "test", "baseline", "candidate", ">p, adjusted"}}
		for _, r := range s.Rows {
			v := toned(r.Verdict)
			g.row(v.Class, v.sign()+" "+strings.ToLower(plain(v.Word, longName)), plain(r.What, longName), plain(r.Baseline, longName), plain(r.Candidate, longName), plain(r.P, longName))
		}
		if len(s.Rows) > 0 {
			t.grid(g, 0)
		}
	}
}

func (t *texter) note(word, s string) {
	if s != "" {
		t.wrapped("  ", word+": "+Plain(s))
	}
}

func (t *texter) paragraph(s, before, after string) {
	if s != "" {
		t.wrapped("  ", before+Plain(s)+after)
	}
}

// wrapped writes a text behind indent, wrapped to the terminal.
func (t *texter) wrapped(indent, s string) {
	lines := wrap(s, t.o.Width-len(indent))
	for i, l := range lines {
		if i == 1 && indent == "" {
			indent = "  "
		}
		t.b.WriteString(indent + l + "\n")
	}
}

// columns is how many columns a text takes, colours not counted.
func columns(s string) int {
	n := 0
	for {
		i := strings.IndexByte(s, 0x1b)
		if i < 0 {
			return n + uniseg.StringWidth(s)
		}
		n += uniseg.StringWidth(s[:i])
		_, s, _ = strings.Cut(s[i:], "m")
	}
}

// wrap breaks a text between words into lines of at most wide columns; a longer
// word has a line of its own. A width of less than 20 does not wrap.
func wrap(s string, wide int) (out []string) {
	if wide < 20 {
		return []string{s}
	}
	line, n := "", 0
	for _, word := range strings.Split(s, " ") {
		w := columns(word)
		if line != "" && n+1+w > wide-2 { // -2: what follows may be indented
			out, line, n = append(out, line), "", 0
		}
		if line != "" {
			line, n = line+" ", n+1
		}
		line, n = line+word, n+w
	}
	return append(out, line)
}
