package reports

import (
	"fmt"
	"io"
	"regexp"
	"strings"
)

// Limits of the Markdown summary.
const (
	maxMarkdown  = 60_000 // bytes
	longCell     = 300    // characters of a reason in a table
	longSentence = 1000   // characters of running text
)

// WriteMarkdown writes a session as a summary in Markdown with tables, for a
// pull request: the verdict, one sentence, a table of the specs, the first
// divergence, the checkpoints that did not pass, and the rows of a soak or a
// check against a baseline. It has at most 60,000 bytes and says what it leaves
// out.
//
// Texts of the session are escaped: none makes markup, a link, a mention or a
// reference to an issue, and none reaches out of its cell.
func WriteMarkdown(w io.Writer, s Session) error {
	m := &markdown{}
	l := leadOf(s)
	title := escaped(s.Title, 2*longName)
	if title == "" {
		title = "latchproof"
	}
	m.line(fmt.Sprintf("### %s %s: %s", l.Tone.sign(), escaped(l.Tone.Word, longName), title))
	m.line("")
	m.line(escaped(l.Sentence, longSentence))
	if s.Soak != nil {
		m.soak(*s.Soak)
	}
	if s.Baseline != nil {
		m.baseline(*s.Baseline)
	}
	m.specs(s.Specs)
	if i, d := parted(s); d != nil {
		m.parted(s.Specs[i], *d)
	}
	m.checkpoints(s.Specs)
	m.notes(s.Specs)
	return m.end(w, s)
}

// markdown gathers whole lines up to its limit.
type markdown struct {
	b    strings.Builder
	left int // lines left out
}

// line appends a line, or counts it when there is no room for it.
func (m *markdown) line(s string) bool {
	if m.left > 0 || m.b.Len()+len(s)+1 > maxMarkdown-2000 { // the last lines have at most 2000 bytes
		m.left++
		return false
	}
	m.b.WriteString(s)
	m.b.WriteByte('\n')
	return true
}

// full counts a line that is not even made, for there is no room left.
func (m *markdown) full() bool {
	if m.left > 0 {
		m.left++
	}
	return m.left > 0
}

// heading begins a part.
func (m *markdown) heading(s string) {
	m.line("")
	m.line("**" + s + "**")
	m.line("")
}

// table begins a table; a name that begins with > is of a column of numbers.
func (m *markdown) table(names ...string) {
	head, rule := "|", "|"
	for _, n := range names {
		number := strings.HasPrefix(n, ">")
		head += " " + strings.TrimPrefix(n, ">") + " |"
		if number {
			rule += " ---: |"
		} else {
			rule += " --- |"
		}
	}
	m.line(head)
	m.line(rule)
}

// row appends a row; its cells are escaped already.
func (m *markdown) row(cells ...string) { m.line("| " + strings.Join(cells, " | ") + " |") }

func (m *markdown) soak(k Soak) {
	m.heading("Claim")
	m.table("Claim", "Verdict", ">Repeats", ">Clean", ">Parted", ">Left out", ">Further clean repeats needed")
	needed := count(k.CleanNeeded)
	if k.CleanNeeded < 0 {
		needed = "more than a million"
	}
	m.row(escaped(k.Claim, longName), verdictCell(k.Verdict), count(k.Repeats), count(k.Clean), count(k.Parted), count(k.Left), needed)
}

func (m *markdown) baseline(b Baseline) {
	if len(b.Differs) > 0 {
		m.heading("What differs between the benches")
		for _, d := range b.Differs {
			m.line("- " + escaped(d, longCell))
		}
	}
	m.heading("Against the baseline")
	m.table("Spec", "Test", "Verdict", "Baseline", "Candidate", ">p")
	for _, s := range b.Specs {
		where := ""
		if s.PartsAt != nil {
			where = ", pictures part at frame " + count(*s.PartsAt)
		}
		m.row(escaped(s.Name, longName), "all"+where, verdictCell(s.Verdict), "", "", "")
		for _, r := range s.Rows {
			if m.full() {
				continue
			}
			m.row("", escaped(r.What, longName), verdictCell(r.Verdict), escaped(r.Baseline, longCell), escaped(r.Candidate, longCell), escaped(r.P, longName))
		}
	}
}

func (m *markdown) specs(specs []Spec) {
	if len(specs) == 0 {
		return
	}
	m.heading("Specs")
	m.table("Spec", "Verdict", "In lockstep", "Checkpoints passed", "First divergence")
	for i, s := range specs {
		if m.full() {
			continue
		}
		m.row(specName(s, i), verdictCell(s.Verdict), inStep(s.Lockstep), passed(s), escaped(partedAt(s), longName))
	}
}

func specName(s Spec, i int) string {
	if n := escaped(s.Name, longName); n != "" {
		return n
	}
	return fmt.Sprintf("Spec %d", i+1)
}

func (m *markdown) parted(s Spec, d Divergence) {
	m.heading("First divergence")
	m.table("", "")
	m.row("Where", fmt.Sprintf("%s, frame %s%s", escaped(s.Name, longName), count(d.Frame), readOf(d)))
	if d.Since < d.Frame {
		m.row("Perhaps since", "frame "+count(d.Since)+": from there on it is not known")
	}
	m.row("Runs", escaped(d.A, longName)+" against "+escaped(d.B, longName))
	m.row("Kind", escaped(strings.TrimSuffix(d.Kind+": "+kindWords(d), ": "), longCell))
	m.row("Why", escaped(d.Why, longSentence))
	if p := points[d.Part]; p != "" {
		m.row("Points to", p)
	}
	if d.Region != nil {
		m.row("Place", escaped(place(*d.Region), longCell))
	}
	if d.ProgramLine > 0 {
		mark := ""
		if d.Mark != "" {
			mark = " (" + escaped(d.Mark, longName) + ")"
		}
		m.row("Program", fmt.Sprintf("line %s: %s%s", count(d.ProgramLine), escaped(d.ProgramText, longCell), mark))
	}
	if d.Try != "" {
		m.row("Try next", escaped(d.Try, longSentence))
	}
}

// readOf names the read in force.
func readOf(d Divergence) string {
	if d.Read < 0 {
		return ""
	}
	return ", read " + count(d.Read)
}

func (m *markdown) checkpoints(specs []Spec) {
	first := true
	for i, s := range specs {
		for _, c := range s.Checkpoints {
			if c.Verdict == "pass" || m.full() {
				continue
			}
			if first {
				m.heading("Checkpoints that did not pass")
				m.table("Spec", "Checkpoint", "At", ">Pass", ">Fail", ">Unseen", "First reason")
				first = false
			}
			n := c.counted()
			m.row(specName(s, i), escaped(c.Name, longName), escaped(c.At, longName), count(n.Pass), count(n.Fail), count(n.Unseen), escaped(c.why(), longCell))
		}
	}
}

func (m *markdown) notes(specs []Spec) {
	first := true
	for i, s := range specs {
		for _, w := range s.Warnings {
			if m.full() {
				continue
			}
			if first {
				m.heading("Notes")
				first = false
			}
			m.line("- " + specName(s, i) + ": " + escaped(w, longCell))
		}
	}
}

// end writes what was gathered, and below what it is of.
func (m *markdown) end(w io.Writer, s Session) error {
	if m.left > 0 {
		fmt.Fprintf(&m.b, "\n%s left out here; the report has them all.\n", plural(m.left, "line was", "lines were"))
	}
	facts := []string{}
	if s.Bench.Name != "" {
		facts = append(facts, "Bench: "+escaped(s.Bench.Name, longName))
	}
	if s.Bench.Simulated {
		facts = append(facts, "simulated, so nothing here is of real equipment")
	}
	if s.Version != "" {
		facts = append(facts, "latchproof "+escaped(s.Version, shortName))
	}
	if t := moment(s.Made); t != "" {
		facts = append(facts, t)
	}
	if len(facts) > 0 {
		fmt.Fprintf(&m.b, "\n%s\n", strings.Join(facts, "; "))
	}
	_, err := io.WriteString(w, m.b.String())
	return err
}

func verdictCell(v string) string {
	t := toned(v)
	out := t.sign() + " " + escaped(t.Word, longName)
	if n := needs(v); n != "" {
		out += ": " + escaped(n, longCell)
	}
	return out
}

// joiner (U+2060, which has no width) stands where two characters must not work
// together: what makes mentions, references, links and emoji of a text looks at
// the text after Markdown took its backslashes out.
const joiner = "\u2060"

var (
	special = strings.NewReplacer(
		`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "|", `\|`, "~", `\~`,
		"<", "&lt;", ">", "&gt;", "&", "&amp;", "$", "&#36;",
		"@", "@"+joiner, "#", `\#`+joiner, "://", ":"+joiner+"//",
	)
	links     = regexp.MustCompile(`(?i)\bwww\.|\bgh-\d|:[a-z0-9_+-]+:|(?:mailto|xmpp):`)
	commits   = regexp.MustCompile(`\b[0-9a-f]{7,40}\b`)
	beginning = regexp.MustCompile(`^(?:[-+=]|\d+[.)](?: |$))`)
)

// escaped is an untrusted text of at most n characters inside a line or a cell.
func escaped(s string, n int) string {
	s = plain(s, n)
	for range 2 { // the end of :a: may be the beginning of :b:
		s = links.ReplaceAllStringFunc(s, func(m string) string { return m[:len(m)-1] + joiner + m[len(m)-1:] })
	}
	s = commits.ReplaceAllStringFunc(s, func(m string) string {
		if !strings.ContainsAny(m, "abcdef") || !strings.ContainsAny(m, "0123456789") {
			return m
		}
		return m[:6] + joiner + m[6:]
	})
	s = special.Replace(s)
	if m := strings.TrimSuffix(beginning.FindString(s), " "); m != "" {
		s = m[:len(m)-1] + `\` + s[len(m)-1:]
	}
	return s
}
