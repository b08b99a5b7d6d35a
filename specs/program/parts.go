package program

import (
	"cmp"
	"fmt"
	"slices"

	"latchproof/specs/console"
)

// Part is one statement of a program that makes reads: a rest, hold or tap, or
// a repeat with its body. Parts are what a program is taken apart into (Parts)
// and put together from (With); to change a program, change its parts. The marks
// and comments that stand before a statement belong to its part and go where it
// goes.
//
// Without buttons a part is written as rest; a tap that no longer holds for one
// read is written as hold.
type Part struct {
	Line  int    // where the statement stands in its source; 0 when it stands in none
	State State  // what is held; unused in a repeat
	Count int64  // reads, from 1; of a repeat how many times, from 1
	Body  []Part // of a repeat, at least one; nil otherwise

	before  []piece // marks, comments and blank lines before it
	after   []piece // those after it, when it is the last of its block
	comment string  // on its line
	ended   string  // of a repeat: on the line of its "end"
	tapped  bool    // written as tap
}

// piece is a line that makes no reads.
type piece struct {
	kind kind   // blank, remark or mark
	name string // of a mark
	text string // the comment
	line int32
}

// Reads is how many reads the part makes, or the largest int64 when that is
// more.
func (p Part) Reads() int64 {
	if p.Body == nil {
		return p.Count
	}
	return mul(p.Count, ReadsOf(p.Body))
}

// ReadsOf is how many reads the parts make together, or the largest int64 when
// that is more.
func ReadsOf(parts []Part) int64 {
	var n int64
	for _, p := range parts {
		n = add(n, p.Reads())
	}
	return n
}

// Parts takes the program apart. The parts are the caller's own.
func (p *Program) Parts() []Part { return p.parts(p.root) }

func (p *Program) parts(b *block) []Part {
	var out []Part
	var loose []piece
	for _, it := range b.items {
		switch it.kind {
		case blank, remark:
			loose = append(loose, piece{kind: it.kind, text: it.text, line: it.line})
			continue
		case mark:
			loose = append(loose, piece{kind: mark, name: p.marks[it.count].Name, text: it.text, line: it.line})
			continue
		}
		part := Part{Line: int(it.line), State: it.state, Count: it.count, before: loose, comment: it.text, tapped: it.kind == tap}
		if it.body != nil {
			part.Body, part.ended = p.parts(it.body), it.body.comment
		}
		out = append(out, part)
		loose = nil
	}
	if len(out) > 0 {
		out[len(out)-1].after = loose
	}
	return out
}

// With puts a program for the same console together from parts, with the
// comment of the same header. LineAt goes on to tell the lines of the source
// that the parts came from; what Format writes has lines of its own.
//
// It is an error when there are no parts, a repeat has none, a count is below 1,
// a state holds a button that the console has not, a mark stands in a repeat or
// twice, or the limits are passed.
func (p *Program) With(parts []Part, lim Limits) (*Program, error) {
	b := builder{prog: &Program{profile: p.profile, root: &block{}, comment: p.comment}, lim: lim.orDefault()}
	if err := b.block(b.prog.root, parts, 0); err != nil {
		return nil, err
	}
	if n := b.prog.root.reads; n > b.lim.Reads {
		return nil, fmt.Errorf("the parts make %d reads; the limit is %d", n, b.lim.Reads)
	}
	return b.prog, nil
}

type builder struct {
	prog *Program
	lim  Limits
}

func (b *builder) block(to *block, parts []Part, depth int) error {
	if len(parts) == 0 {
		return fmt.Errorf("no parts: a program, and the body of a repeat, has at least one read")
	}
	for _, p := range parts {
		if err := b.pieces(to, p.before, depth); err != nil {
			return err
		}
		if err := b.part(to, p, depth); err != nil {
			return err
		}
		if err := b.pieces(to, p.after, depth); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) part(to *block, p Part, depth int) error {
	if p.Count < 1 {
		return fmt.Errorf("line %d: count %d must be 1 or more", p.Line, p.Count)
	}
	it := item{kind: hold, state: p.State, count: p.Count, line: int32(p.Line), text: p.comment}
	switch {
	case p.Body != nil:
		if depth == b.lim.Nesting {
			return fmt.Errorf("line %d: repeat nested %d deep; the limit is %d", p.Line, depth+1, b.lim.Nesting)
		}
		it.kind, it.state, it.body = repeat, State{}, &block{comment: p.ended}
		if err := b.block(it.body, p.Body, depth+1); err != nil {
			return err
		}
	case p.State == State{}:
		it.kind = rest
	case p.tapped && p.Count == 1:
		it.kind = tap
	}
	if extra := uncovered(p.State, b.prog.profile); it.body == nil && extra {
		return fmt.Errorf("line %d: state %04x %04x holds a button that console %s has not", p.Line, p.State.P1, p.State.P2, b.prog.profile.Name)
	}
	to.append(it, p.Reads())
	return nil
}

// uncovered says whether a state holds a button that the console has not.
func uncovered(s State, p console.Profile) bool {
	known := uint16(1)<<len(p.Buttons) - 1 // at most 16 buttons
	return s.P1&^known != 0 || s.P2&^known != 0 || s.P2 != 0 && p.Ports < 2
}

func (b *builder) pieces(to *block, pieces []piece, depth int) error {
	for _, x := range pieces {
		it := item{kind: x.kind, line: x.line, text: x.text}
		if x.kind == mark {
			switch {
			case depth > 0:
				return fmt.Errorf("mark %q inside a repeat: a mark names one read", x.name)
			case slices.ContainsFunc(b.prog.marks, func(m Mark) bool { return m.Name == x.name }):
				return fmt.Errorf("mark %q twice", x.name)
			}
			it.count = int64(len(b.prog.marks))
			b.prog.marks = append(b.prog.marks, Mark{Name: x.name, Read: Read(to.reads), Line: int(x.line)})
		}
		to.append(it, 0)
	}
	return nil
}

// Cut gives the parts of the first reads only. A statement that reaches beyond
// is shortened; of a repeat the whole passes stay and the begun one is written
// out after them. Fewer than 1 reads give no parts.
func Cut(parts []Part, reads int64) []Part {
	var out []Part
	for _, p := range parts {
		n := p.Reads()
		if reads <= 0 {
			break
		}
		if n <= reads {
			out, reads = append(out, p), reads-n
			continue
		}
		p.after = nil
		if p.Body == nil {
			p.Count = reads
			return append(out, p)
		}
		pass := ReadsOf(p.Body)
		begun := Cut(p.Body, reads%pass)
		if p.Count = reads / pass; p.Count > 0 {
			out = append(out, p)
		} else {
			begun[0].before = slices.Concat(p.before, begun[0].before)
		}
		return append(out, begun...)
	}
	return out
}

// Unrolled is a repeat written out: its body, as many times. What stood around
// the repeat stands around the whole; the comments on its lines become lines of
// their own. Anything else is given as it is. The caller sees to it that Count
// times the parts of the body is a number to be written out.
func (p Part) Unrolled() []Part {
	if len(p.Body) == 0 {
		return []Part{p}
	}
	out := make([]Part, 0, int(p.Count)*len(p.Body))
	for range p.Count {
		out = append(out, slices.Clone(p.Body)...)
	}
	first, last := &out[0], &out[len(out)-1]
	lead := slices.Clone(p.before)
	if p.comment != "" {
		lead = append(lead, piece{kind: remark, text: p.comment, line: int32(p.Line)})
	}
	first.before = slices.Concat(lead, first.before)
	last.after = slices.Clone(last.after)
	if p.ended != "" {
		last.after = append(last.after, piece{kind: remark, text: p.ended, line: int32(p.Line)})
	}
	last.after = append(last.after, p.after...)
	return out
}

// Names writes a state as programs do, such as "right+b+p2:a"; nothing held is
// "".
func (p *Program) Names(s State) string { return names(s, p.profile) }

// Preface gives a program with comment lines put before everything else after
// the header. The lines are without "#" and without line breaks; an empty one is
// a blank line.
func (p *Program) Preface(lines ...string) *Program {
	out := *p
	root := *p.root
	root.items = nil
	for _, l := range lines {
		it := item{kind: blank, line: 1}
		if l != "" {
			it.kind, it.text = remark, "# "+l
		}
		root.items = append(root.items, it)
	}
	root.items = append(root.items, p.root.items...)
	root.acts = make([]int32, len(p.root.acts))
	for i, at := range p.root.acts {
		root.acts[i] = at + int32(len(lines))
	}
	out.root = &root
	return &out
}

// Joined writes neighbours that press the same as one statement, and a repeat of
// one statement as that statement, so that the same is pressed in fewer lines. A
// mark keeps what it names apart. Comments on lines of their own stay; of two on
// the lines of statements the first does.
func Joined(parts []Part) []Part {
	var out []Part
	for _, p := range parts {
		if p.Body != nil {
			p.Body = Joined(p.Body)
			if one := p.Body[0]; len(p.Body) == 1 && one.Body == nil {
				one.Count = mul(p.Count, one.Count)
				one.before = slices.Concat(p.before, one.before)
				one.after = slices.Concat(one.after, p.after)
				one.comment = cmp.Or(one.comment, p.comment)
				p = one
			}
		}
		if n := len(out) - 1; n >= 0 && p.Body == nil && out[n].Body == nil && p.State == out[n].State && !marked(p.before) && !marked(out[n].after) {
			last := &out[n]
			last.Count = add(last.Count, p.Count)
			last.before = slices.Concat(last.before, last.after, p.before)
			last.after = p.after
			last.comment = cmp.Or(last.comment, p.comment)
			continue
		}
		out = append(out, p)
	}
	return out
}

// marked says whether there is a mark among pieces.
func marked(pieces []piece) bool {
	return slices.ContainsFunc(pieces, func(x piece) bool { return x.kind == mark })
}
