package program

import (
	"slices"
	"sort"

	"latchproof/specs/console"
)

// Program is a button program as it was written. It does not change; it may be
// used from several goroutines.
type Program struct {
	profile console.Profile
	root    *block
	marks   []Mark
	comment string // after the header
}

type kind uint8

const (
	blank  kind = iota
	remark      // a comment on its own line
	mark
	rest
	hold
	tap
	repeat
)

// item is one line, or one repeat with its body.
type item struct {
	start int64  // reads of the block before this item
	count int64  // rest, hold, tap: reads; repeat: times; mark: index in Program.marks
	body  *block // repeat only
	text  string // the comment, from "#" on
	line  int32
	state State
	kind  kind
}

// block is a program, or the body of a repeat.
type block struct {
	items   []item
	acts    []int32 // which of them make reads
	reads   int64   // of one pass
	comment string  // after its "end"
}

// append adds an item that makes the given number of reads.
func (b *block) append(it item, reads int64) {
	it.start = b.reads
	if reads > 0 {
		b.acts = append(b.acts, int32(len(b.items)))
	}
	b.items = append(b.items, it)
	b.reads = add(b.reads, reads)
}

// Reads is the length of the program in reads, at least 1.
func (p *Program) Reads() int64 { return p.root.reads }

// Marks are the marks in the order of the source.
func (p *Program) Marks() []Mark { return slices.Clone(p.marks) }

// at finds the rest, hold or tap in force at a read, by binary search in each
// level of repeats; nil outside the program.
func (p *Program) at(r Read) *item {
	left := int64(r)
	if left < 0 || left >= p.root.reads {
		return nil
	}
	for b := p.root; ; {
		i := sort.Search(len(b.items), func(i int) bool { return b.items[i].start > left }) - 1
		it := &b.items[i]
		if it.body == nil {
			return it
		}
		left = (left - it.start) % it.body.reads
		b = it.body
	}
}

// At is the state served at a read: what the program says, and everything
// released before its start and after its end.
func (p *Program) At(r Read) State {
	if it := p.at(r); it != nil {
		return it.state
	}
	return State{}
}

// LineAt is the source line in force at a read, or 0 outside the program. For
// an imported CSV it is the line of the row; reads between two rows belong to
// the later one.
func (p *Program) LineAt(r Read) int {
	if it := p.at(r); it != nil {
		return int(it.line)
	}
	return 0
}

// walk visits the stretches of one pass in order, unmerged. It takes at most as
// many steps as there are reads, times the levels of repeats: lines that make no
// reads are passed over, since a short text could repeat thousands of them
// hundreds of thousands of times.
func (b *block) walk(visit func(State, int64)) {
	for _, i := range b.acts {
		switch it := &b.items[i]; it.kind {
		case rest, hold, tap:
			visit(it.state, it.count)
		case repeat:
			for range it.count {
				it.body.walk(visit)
			}
		}
	}
}

// each visits the runs of the whole program in order, neighbours of equal state
// merged.
func (p *Program) each(visit func(Run)) {
	var run Run
	p.root.walk(func(s State, n int64) {
		if s == run.State {
			run.Count += n
			return
		}
		if run.Count > 0 {
			visit(run)
		}
		run = Run{s, n}
	})
	visit(run)
}

// Runs is the expanded program. Neighbours of equal state are merged; the
// counts add up to Reads.
func (p *Program) Runs() []Run {
	var runs []Run
	p.each(func(r Run) { runs = append(runs, r) })
	return runs
}
