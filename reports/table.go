package reports

import (
	"fmt"
	"io"
)

// WriteTable writes a table in text for a terminal, two columns in. Headings that
// begin with > are of columns of numbers, which stand on the right. The cells may
// be untrusted: they are shown as Plain shows them, and long ones but in the last
// column are cut.
func WriteTable(w io.Writer, head []string, rows [][]string, o TextOptions) error {
	t := texter{o: o}
	g := grid{head: append([]string(nil), head...)}
	for _, r := range rows {
		if len(r) != len(head) {
			return fmt.Errorf("a row of %d cells under %d headings", len(r), len(head))
		}
		cells := make([]string, len(r))
		for i, c := range r {
			cells[i] = Plain(c)
		}
		g.row("", cells...)
	}
	t.grid(g, -1)
	_, err := io.WriteString(w, t.b.String())
	return err
}
