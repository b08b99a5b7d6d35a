package program

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"latchproof/specs/console"
)

// csvHeader is the first row of the CSV form.
var csvHeader = []string{"from", "to", "buttons"}

// ImportCSV reads the CSV form of the package comment (RFC 4180). The error is
// an ErrorList with every problem. Only a missing header, wrong values and
// wrong order are problems; reads between rows are rest.
func ImportCSV(file string, src []byte, p console.Profile, lim Limits) (*Program, error) {
	im := importer{
		problems: problems{file: file},
		src:      bytes.TrimPrefix(src, byteOrderMark),
		length:   length{limit: lim.orDefault().Reads},
		prog:     &Program{profile: p, root: &block{}},
		last:     -1,
	}
	im.source()
	if err := im.err(); err != nil {
		return nil, err
	}
	return im.prog, nil
}

type importer struct {
	problems
	src      []byte
	starts   []int // byte offset of every line, made for the first problem
	r        *csv.Reader
	length   length
	prog     *Program
	from     int64 // of the furthest row so far
	last     int64 // the last read given so far, -1 for none
	lastLine int
	tokens   []token
}

func (im *importer) source() {
	if len(im.src) == 0 {
		im.fail(1, 1, "empty file: the first line must be from,to,buttons")
		return
	}
	if im.binary(im.src, false) {
		return
	}
	im.r = csv.NewReader(bytes.NewReader(im.src))
	im.r.FieldsPerRecord = -1
	im.r.ReuseRecord = true
	header := false
	for {
		record, err := im.r.Read()
		if err == io.EOF {
			break
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			line, col := im.place(bad.Line, bad.Column)
			if bad.StartLine < bad.Line {
				im.fail(line, col, "%v, in the row that starts at line %d", bad.Err, bad.StartLine)
			} else {
				im.fail(line, col, "%v", bad.Err)
			}
			header = true
			continue
		}
		if err != nil { // a reader over bytes has no other
			im.fail(1, 1, "%v", err)
			break
		}
		if header {
			im.row(record)
			continue
		}
		header = true
		if !slices.Equal(record, csvHeader) {
			line, col := im.field(0)
			im.fail(line, col, "the first line must be from,to,buttons")
		}
	}
	im.length.report(&im.problems, add(im.last, 1))
	if !im.any() && im.last < 0 {
		im.fail(1, 1, "the program has no reads")
	}
}

// place turns a line and a byte column into a line and a character column.
func (im *importer) place(line, byteCol int) (int, int) {
	if im.starts == nil {
		im.starts = []int{0}
		for i, c := range im.src {
			if c == '\n' {
				im.starts = append(im.starts, i+1)
			}
		}
	}
	start := im.starts[min(line, len(im.starts))-1]
	text, _, _ := bytes.Cut(im.src[start:], []byte("\n"))
	return line, utf8.RuneCount(text[:min(byteCol-1, len(text))]) + 1
}

// field is the place of a field of the row just read.
func (im *importer) field(i int) (line, col int) { return im.place(im.r.FieldPos(i)) }

func (im *importer) row(record []string) {
	if len(record) != len(csvHeader) {
		line, col := im.field(0)
		im.fail(line, col, "row has %d fields, not 3: from,to,buttons", len(record))
		return
	}
	from, fromOK := im.number(0, record[0])
	to, toOK := im.number(1, record[1])
	state := im.buttons(record[2])
	if !fromOK || !toOK {
		return
	}
	line, _ := im.r.FieldPos(0)
	problem := func(field int, format string, args ...any) {
		line, col := im.field(field)
		im.fail(line, col, format, args...)
	}
	switch {
	case to < from:
		problem(1, "to %d is before from %d", to, from)
		return
	case from < im.from:
		problem(0, "rows must ascend: from %d comes after from %d of line %d", from, im.from, im.lastLine)
	case from <= im.last:
		problem(0, "rows overlap: read %d is given by line %d already", from, im.lastLine)
	}
	if to >= im.length.limit {
		line, col := im.field(1)
		im.length.check(add(to, 1), line, col)
	}
	if !im.any() && im.length.line == 0 {
		b := im.prog.root
		if gap := from - b.reads; gap > 0 {
			b.append(item{kind: rest, count: gap, line: int32(line)}, gap)
		}
		k := hold
		if state == (State{}) {
			k = rest
		}
		b.append(item{kind: k, state: state, count: to - from + 1, line: int32(line)}, to-from+1)
	}
	if to > im.last || im.last < 0 {
		im.from, im.last, im.lastLine = max(from, im.from), to, line
	}
}

// number reads a read number: decimal digits. Beyond 64 bits it is the largest.
func (im *importer) number(field int, s string) (int64, bool) {
	n, err := strconv.ParseInt(s, 10, 64)
	switch {
	case strings.HasPrefix(s, "+") || strings.HasPrefix(s, "-") || err != nil && !errors.Is(err, strconv.ErrRange):
		line, col := im.field(field)
		im.fail(line, col, "%s %s is not a read number", csvHeader[field], quote(s))
		return 0, false
	case err != nil:
		return math.MaxInt64, true
	}
	return n, true
}

// buttons reads the third field. Problems stand at their own column when the
// field is written in the source as it is read, else at the field's start.
func (im *importer) buttons(s string) State {
	im.tokens = words(s, im.tokens)
	var line, start int // of the field's text, once it is needed
	asWritten := !strings.ContainsAny(s, "\"\n")
	state, _ := buttons(im.tokens, im.prog.profile, func(col int, format string, args ...any) {
		if line == 0 {
			line, start = im.field(2)
			if l, b := im.r.FieldPos(2); asWritten && im.src[im.starts[l-1]+b-1] == '"' {
				start++
			}
		}
		if !asWritten {
			col = 1
		}
		im.fail(line, start+col-1, format, args...)
	})
	return state
}

// ExportCSV writes the CSV form of the package comment. Errors are those of w.
func (p *Program) ExportCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true // RFC 4180, section 2, rule 1
	out.Write(csvHeader)
	var from int64
	p.each(func(r Run) {
		to := from + r.Count - 1
		if r.State != (State{}) || to == p.root.reads-1 {
			out.Write([]string{strconv.FormatInt(from, 10), strconv.FormatInt(to, 10), names(r.State, p.profile)})
		}
		from = to + 1
	})
	out.Flush()
	return out.Error()
}
