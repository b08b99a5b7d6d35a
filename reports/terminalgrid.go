package reports

import (
	"strings"

	"github.com/rivo/uniseg"
)

// A grid is a table in text. A heading that begins with > is of a column of
// numbers, which stand on the right. The last column is not padded and may be
// wrapped.
type grid struct {
	head []string
	rows []gridRow
}

type gridRow struct {
	class string // colour of the verdict
	cells []string
}

func (g *grid) row(class string, cells ...string) {
	g.rows = append(g.rows, gridRow{class, cells})
}

// grid writes a table, two columns in; painted is the column that has the
// verdict's colour, -1 for none.
func (t *texter) grid(g grid, painted int) {
	last := len(g.head) - 1
	right := make([]bool, last+1)
	wide := make([]int, last+1)
	for i, h := range g.head {
		if strings.HasPrefix(h, ">") {
			right[i], g.head[i] = true, h[1:]
		}
		wide[i] = columns(g.head[i])
	}
	most := maxTextName
	if t.o.Width > 0 {
		most = min(most, max(t.o.Width/len(g.head)-2, t.o.Width/4, 12))
	}
	for _, r := range g.rows {
		for i := range r.cells {
			if i < last {
				r.cells[i] = shortened(r.cells[i], most)
			}
			wide[i] = max(wide[i], columns(r.cells[i]))
		}
	}
	before := 2
	for i := range last {
		before += wide[i] + 2
	}
	t.gridLine(gridRow{"", g.head}, wide, right, before, -1)
	for _, r := range g.rows {
		t.gridLine(r, wide, right, before, painted)
	}
}

func (t *texter) gridLine(r gridRow, wide []int, right []bool, before, painted int) {
	var b strings.Builder
	b.WriteString("  ")
	last := len(wide) - 1
	for i, c := range r.cells {
		pad := strings.Repeat(" ", max(wide[i]-columns(c), 0))
		if i == painted && r.class != "" {
			c = t.paint(r.class, c)
		}
		switch {
		case right[i]:
			b.WriteString(pad + c)
		case i == last:
			lines := []string{c}
			if t.o.Width-before >= 20 {
				lines = wrap(c, t.o.Width-before+2)
			}
			b.WriteString(strings.Join(lines, "\n"+strings.Repeat(" ", before)))
		default:
			b.WriteString(c + pad)
		}
		if i < last {
			b.WriteString("  ")
		}
	}
	for l := range strings.SplitSeq(b.String(), "\n") {
		t.b.WriteString(strings.TrimRight(l, " ") + "\n")
	}
}

// shortened cuts a text to so many columns, with an ellipsis.
func shortened(s string, most int) string {
	if columns(s) <= most {
		return s
	}
	isolated := strings.HasPrefix(s, "\u2068")
	out, n := "", 0
	for g := uniseg.NewGraphemes(s); g.Next(); {
		if n+g.Width() > most-1 {
			break
		}
		out, n = out+g.Str(), n+g.Width()
	}
	out += "…"
	if isolated {
		out += "\u2069"
	}
	return out
}
