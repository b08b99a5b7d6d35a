package program

import (
	"fmt"
	"strconv"
	"strings"
)

// Format writes the program as canonical text; the package comment says what
// is kept and what is normalised. Parsed again it has the same marks and hash,
// and formatted again it is the same text.
func (p *Program) Format() []byte {
	w := writer{prog: p}
	w.put(0, "program 1", p.comment)
	w.block(p.root, 0)
	return []byte(w.b.String())
}

type writer struct {
	prog *Program
	b    strings.Builder
	gap  bool // a blank line is due before the next line
}

func (w *writer) put(depth int, text, comment string) {
	if w.gap {
		w.b.WriteByte('\n')
		w.gap = false
	}
	for range depth {
		w.b.WriteString("  ")
	}
	w.b.WriteString(text)
	if text != "" && comment != "" {
		w.b.WriteString("  ")
	}
	w.b.WriteString(comment)
	w.b.WriteByte('\n')
}

func (w *writer) block(b *block, depth int) {
	for i := range b.items {
		it := &b.items[i]
		switch it.kind {
		case blank:
			w.gap = true
		case remark:
			w.put(depth, "", it.text)
		case mark:
			w.put(depth, "mark "+w.prog.marks[it.count].Name, it.text)
		case rest:
			w.put(depth, "rest "+strconv.FormatInt(it.count, 10), it.text)
		case hold:
			w.put(depth, fmt.Sprintf("hold %s for %d", names(it.state, w.prog.profile), it.count), it.text)
		case tap:
			w.put(depth, "tap "+names(it.state, w.prog.profile), it.text)
		case repeat:
			w.put(depth, "repeat "+strconv.FormatInt(it.count, 10), it.text)
			w.block(it.body, depth+1)
			w.put(depth, "end", it.body.comment)
		}
	}
}
