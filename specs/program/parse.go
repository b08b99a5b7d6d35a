package program

import (
	"bytes"
	"errors"
	"strconv"
	"strings"
	"unicode/utf8"

	"latchproof/specs/console"
)

// headerHint is what the first line must be.
const headerHint = `the first line must be "program 1"`

var statements = []string{"rest", "hold", "tap", "mark", "repeat", "end", "program"}

// Parse reads a program in the notation of the package comment. The file name
// serves messages only. Buttons and ports are those of the profile. The error
// is an ErrorList with every problem.
func Parse(file string, src []byte, p console.Profile, lim Limits) (*Program, error) {
	src = bytes.TrimPrefix(src, byteOrderMark)
	lim = lim.orDefault()
	ps := parser{
		problems: problems{file: file},
		profile:  p,
		nesting:  lim.Nesting,
		length:   length{limit: lim.Reads},
		prog:     &Program{profile: p, root: &block{}},
		names:    map[string]int{},
	}
	if ps.source(src) && !ps.any() && ps.prog.root.reads == 0 {
		ps.fail(1, 1, "the program has no reads")
	}
	if err := ps.err(); err != nil {
		return nil, err
	}
	return ps.prog, nil
}

type parser struct {
	problems
	profile console.Profile
	nesting int
	length  length
	prog    *Program
	names   map[string]int // marks -> line
	open    []opened       // repeats not yet closed
	line    scanned
}

// opened is a repeat whose end has not come yet.
type opened struct {
	repeat    item
	line, col int // of the word "repeat"
	countCol  int
	unsure    bool // a problem inside, so its length is not known
}

// source reads the whole source. It reports false when it is no text.
func (p *parser) source(src []byte) bool {
	if len(src) == 0 {
		p.fail(1, 1, "empty file: %s", headerHint)
		return false
	}
	first, _, _ := bytes.Cut(src, []byte("\n"))
	code, _ := cutComment(strings.TrimSuffix(string(first), "\r"))
	p.line.tokens = words(code, nil)
	hasHeader := len(p.line.tokens) > 0 && p.line.tokens[0].text == "program"
	if p.binary(src, hasHeader) {
		return false
	}
	if !hasHeader {
		p.fail(1, 1, "missing header: %s", headerHint)
	}
	text := string(src)
	for number := 1; text != ""; number++ {
		var one string
		one, text, _ = strings.Cut(text, "\n")
		one = strings.TrimSuffix(one, "\r")
		p.line.number = number
		code, comment := cutComment(one)
		p.line.tokens, p.line.comment = words(code, p.line.tokens), comment
		if at, r, invalid := unfit(one); at >= 0 {
			col := utf8.RuneCountInString(one[:at]) + 1
			if invalid {
				p.fail(number, col, "not UTF-8 text: byte 0x%02x", r)
			} else {
				p.fail(number, col, "control character %U", r)
			}
			p.unsure()
			if at < len(code) {
				continue
			}
		}
		if number == 1 && hasHeader {
			p.header()
			continue
		}
		p.statement()
	}
	for i := len(p.open) - 1; i >= 0; i-- {
		o := p.open[i]
		p.fail(o.line, o.col, `repeat is never closed with "end"`)
		outer := p.prog.root
		if i > 0 {
			outer = p.open[i-1].repeat.body
		}
		outer.reads = add(outer.reads, mul(o.repeat.count, o.repeat.body.reads))
		p.length.check(outer.reads, o.line, o.countCol)
	}
	p.length.report(&p.problems, p.prog.root.reads)
	return true
}

func (p *parser) header() {
	t := p.line.tokens
	p.prog.comment = p.line.comment
	switch {
	case len(t) == 1:
		p.fail(1, t[0].col, "missing version: %s", headerHint)
	case t[1].text != "1":
		p.fail(1, t[1].col, "program version %s is not known; this reader knows version 1", quote(t[1].text))
	default:
		p.nothingAfter(2)
	}
}

// block is the block being filled.
func (p *parser) block() *block {
	if n := len(p.open); n > 0 {
		return p.open[n-1].repeat.body
	}
	return p.prog.root
}

// unsure notes that the length of the open repeats is not known.
func (p *parser) unsure() {
	for i := len(p.open) - 1; i >= 0 && !p.open[i].unsure; i-- {
		p.open[i].unsure = true
	}
}

func (p *parser) bad(t token, format string, args ...any) {
	p.fail(p.line.number, t.col, format, args...)
	p.unsure()
}

// nothingAfter reports words from token i on.
func (p *parser) nothingAfter(i int) {
	if t := p.line.tokens; len(t) > i {
		p.bad(t[i], "unexpected %s after %s", quote(t[i].text), quote(t[i-1].text))
	}
}

// count reads token i, a number from 1, and expects nothing after it. Numbers
// beyond 64 bits become the largest.
func (p *parser) count(i int) (int64, bool) {
	t := p.line.tokens[i]
	p.nothingAfter(i + 1)
	n, err := strconv.ParseInt(t.text, 10, 64)
	switch {
	case strings.HasPrefix(t.text, "+") || err != nil && !errors.Is(err, strconv.ErrRange):
		p.bad(t, "%s is not a whole number", quote(t.text))
		return 0, false
	case n < 1:
		p.bad(t, "count %s must be 1 or more", clip(t.text))
		return 0, false
	}
	return n, true
}

// put adds a statement that makes n reads; col is where its count stands.
func (p *parser) put(k kind, s State, n int64, col int) {
	b := p.block()
	b.append(item{kind: k, state: s, count: n, line: int32(p.line.number), text: p.line.comment}, n)
	p.length.check(b.reads, p.line.number, col)
}

func (p *parser) statement() {
	t := p.line.tokens
	if len(t) == 0 {
		k := blank
		if p.line.comment != "" {
			k = remark
		}
		p.put(k, State{}, 0, 1)
		return
	}
	switch word := t[0]; word.text {
	case "rest":
		if len(t) == 1 {
			p.bad(word, `rest needs a count, as in "rest 60"`)
		} else if n, ok := p.count(1); ok {
			p.put(rest, State{}, n, t[1].col)
		}
	case "hold":
		p.hold()
	case "tap":
		if len(t) == 1 {
			p.bad(word, `tap needs a button, as in "tap start"`)
		} else if s, ok := p.buttons(t[1:]); ok {
			p.put(tap, s, 1, word.col)
		}
	case "mark":
		p.mark()
	case "repeat":
		p.repeat()
	case "end":
		p.end()
	case "program":
		p.bad(word, "the header belongs on the first line only")
	default:
		if near, ok := console.Nearest(word.text, statements); ok {
			p.bad(word, "unknown statement %s; did you mean %q?", quote(word.text), near)
		} else {
			p.bad(word, "unknown statement %s", quote(word.text))
		}
	}
}

func (p *parser) buttons(tokens []token) (State, bool) {
	line := p.line.number
	s, ok := buttons(tokens, p.profile, func(col int, format string, args ...any) { p.fail(line, col, format, args...) })
	if !ok {
		p.unsure()
	}
	return s, ok
}

func (p *parser) hold() {
	t := p.line.tokens
	at := 0
	for i := range t {
		if t[i].text == "for" {
			at = i
			break
		}
	}
	switch at {
	case 0:
		p.bad(t[0], `hold needs "for" and a count, as in "hold a for 5"`)
		return
	case 1:
		p.bad(t[1], "hold needs a button; for none use rest")
	}
	s, ok := p.buttons(t[1:at])
	if at == len(t)-1 {
		p.bad(t[at], `a count is missing after "for"`)
		return
	}
	n, counted := p.count(at + 1)
	if ok && counted && at > 1 {
		p.put(hold, s, n, t[at+1].col)
	}
}

func (p *parser) mark() {
	t := p.line.tokens
	if len(t) == 1 {
		p.bad(t[0], `mark needs a name, as in "mark jump"`)
		return
	}
	p.nothingAfter(2)
	name := t[1].text
	if !ValidMark(name) {
		p.bad(t[1], `%s is not a mark name: letters, digits and "_" from a letter on, such words joined by "-", at most %d characters`, quote(name), maxMarkName)
		return
	}
	if first, twice := p.names[name]; twice {
		p.bad(t[1], "mark %q given twice; first at line %d", name, first)
		return
	}
	p.names[name] = p.line.number
	if len(p.open) > 0 {
		p.bad(t[1], "mark %q inside a repeat: a mark names one read", name)
		return
	}
	at := p.prog.root.reads
	p.prog.marks = append(p.prog.marks, Mark{Name: name, Read: Read(at), Line: p.line.number})
	p.prog.root.append(item{kind: mark, count: int64(len(p.prog.marks) - 1), line: int32(p.line.number), text: p.line.comment}, 0)
}

func (p *parser) repeat() {
	t := p.line.tokens
	o := opened{
		repeat:   item{kind: repeat, body: &block{}, line: int32(p.line.number), text: p.line.comment},
		line:     p.line.number,
		col:      t[0].col,
		countCol: t[0].col,
	}
	if len(t) == 1 {
		p.bad(t[0], `repeat needs a count, as in "repeat 3"`)
	} else {
		o.countCol = t[1].col
		o.repeat.count, _ = p.count(1)
	}
	p.open = append(p.open, o)
	if len(p.open) == p.nesting+1 {
		p.fail(o.line, o.col, "repeat nested %d deep; the limit is %d", len(p.open), p.nesting)
	}
}

func (p *parser) end() {
	p.nothingAfter(1)
	n := len(p.open)
	if n == 0 {
		p.bad(p.line.tokens[0], `"end" without "repeat"`)
		return
	}
	o := p.open[n-1]
	p.open = p.open[:n-1]
	body := o.repeat.body
	body.comment = p.line.comment
	if body.reads == 0 {
		if !o.unsure {
			p.fail(o.line, o.col, "repeat has no reads in it")
		}
		p.unsure()
	}
	b := p.block()
	b.append(o.repeat, mul(o.repeat.count, body.reads))
	p.length.check(b.reads, o.line, o.countCol)
}
