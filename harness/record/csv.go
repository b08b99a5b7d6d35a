package record

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"

	"latchproof/harness/feeder"
	"latchproof/specs/console"
)

// Headers of the CSV files. RFC 4180, section 2.
const (
	readsHeader  = "index,time_us,clocks,p1,p2"
	readsHeader2 = readsHeader + ",clocks2"
	framesHeader = "index,time_us,frame,state"
	syncsHeader  = "sent_us,received_us,board_us"
)

// maxProblems bounds what one bad file can make us say.
const maxProblems = 100

// ParseReads reads reads.csv. file is the name used in errors, which are an
// ErrorList with every problem found (at most 100).
func ParseReads(file string, src []byte) ([]feeder.Latch, error) {
	t := newTable(file, src, readsHeader, readsHeader2)
	var out []feeder.Latch
	gap := int64(-1) // first latch of a gap that the rows since the last latch tell of
	for t.next() {
		if t.row[1] == lostWord {
			gap = t.gap(out, gap)
			continue
		}
		l := feeder.Latch{
			Index:  t.integer(0, 0, maxInt),
			Micros: t.integer(1, 0, maxInt),
			Clocks: uint8(t.integer(2, 0, 255)),
			P1:     uint16(t.integer(3, 0, 0xffff)),
			P2:     uint16(t.integer(4, 0, 0xffff)),
		}
		if len(t.row) > 5 {
			l.Clocks2 = uint8(t.integer(5, 0, 255))
		}
		if n := len(out); n > 0 && !t.bad {
			if gap < 0 && l.Index != out[n-1].Index+1 {
				t.fail(0, "index %d follows %d: a row is missing or out of order", l.Index, out[n-1].Index)
			} else if gap >= 0 && l.Index <= gap {
				t.fail(0, "index %d follows a gap from %d on", l.Index, gap)
			} else if l.Micros < out[n-1].Micros {
				t.fail(1, "time %d us is before that of the row above", l.Micros)
			}
		}
		if !t.bad {
			out, gap = append(out, l), -1
		}
	}
	if gap >= 0 && len(t.list) == 0 {
		t.list = append(t.list, SyntaxError{t.file, t.line(), 1, "a gap needs a latch after it"})
	}
	return out, t.err()
}

// lostWord stands in place of the time in the row of a gap.
const lostWord = "lost"

// gap checks the row of a gap and gives its first latch; was is the gap that
// the row above tells of, -1 for none.
func (t *table) gap(above []feeder.Latch, was int64) int64 {
	index := t.integer(0, 0, maxInt-1)
	switch {
	case t.bad:
		return was
	case len(above) == 0:
		t.fail(0, "a gap needs a latch before it")
	case was >= 0:
		t.fail(0, "a gap follows a gap")
	case index != above[len(above)-1].Index+1:
		t.fail(0, "gap from %d on follows %d: a row is missing or out of order", index, above[len(above)-1].Index)
	}
	for i := 2; i < len(t.row); i++ {
		if t.row[i] != "" {
			t.fail(i, "the row of a gap has %q here: want nothing", t.row[i])
		}
	}
	return index
}

// FormatReads writes reads.csv whole. The column clocks2 is there only when
// some latch needs it, and the row of a gap wherever indexes do not rise by one.
func FormatReads(latches []feeder.Latch) []byte {
	two := false
	for _, l := range latches {
		two = two || needsPort2(l)
	}
	return formatReads(latches, two)
}

func formatReads(latches []feeder.Latch, two bool) []byte {
	out := []byte(readsHead(two))
	for i, l := range latches {
		if i > 0 && l.Index != latches[i-1].Index+1 {
			out = appendGap(out, latches[i-1].Index+1, two)
		}
		out = appendLatch(out, l, two)
	}
	return out
}

func needsPort2(l feeder.Latch) bool { return l.Clocks2 != 0 }

func readsHead(two bool) string {
	if two {
		return readsHeader2 + "\n"
	}
	return readsHeader + "\n"
}

func appendLatch(out []byte, l feeder.Latch, two bool) []byte {
	out = fmt.Appendf(out, "%d,%d,%d,0x%02x,0x%02x", l.Index, l.Micros, l.Clocks, l.P1, l.P2)
	if two {
		out = fmt.Appendf(out, ",%d", l.Clocks2)
	}
	return append(out, '\n')
}

func appendGap(out []byte, from int64, two bool) []byte {
	out = fmt.Appendf(out, "%d,%s,,,", from, lostWord)
	if two {
		out = append(out, ',')
	}
	return append(out, '\n')
}

// ParseFrames reads frames.csv; errors as ParseReads.
func ParseFrames(file string, src []byte) ([]FrameRow, error) {
	t := newTable(file, src, framesHeader)
	var out []FrameRow
	for t.next() {
		r := FrameRow{
			Index: t.integer(0, 0, maxInt),
			Stamp: t.micros(1),
			Frame: NoFrame,
			State: FrameState(t.row[3]),
		}
		if t.row[2] != "" {
			r.Frame = console.Frame(t.integer(2, 0, maxInt))
		}
		switch r.State {
		case Fresh, Repeat, Damaged, Unsure, Outside:
		default:
			t.fail(3, "state %q is not fresh, repeat, damaged, unsure or outside", t.row[3])
		}
		if n := len(out); n > 0 && !t.bad && r.Index <= out[n-1].Index {
			t.fail(0, "index %d follows %d: out of order", r.Index, out[n-1].Index)
		}
		if !t.bad {
			out = append(out, r)
		}
	}
	return out, t.err()
}

// FormatFrames writes frames.csv whole.
func FormatFrames(rows []FrameRow) []byte {
	out := []byte(framesHeader + "\n")
	for _, r := range rows {
		out = fmt.Appendf(out, "%d,%d,", r.Index, r.Stamp.Microseconds())
		if r.Frame != NoFrame {
			out = strconv.AppendInt(out, int64(r.Frame), 10)
		}
		out = fmt.Appendf(out, ",%s\n", r.State)
	}
	return out
}

// ParseSyncs reads syncs.csv; errors as ParseReads.
func ParseSyncs(file string, src []byte) ([]feeder.Sync, error) {
	t := newTable(file, src, syncsHeader)
	var out []feeder.Sync
	for t.next() {
		s := feeder.Sync{Sent: t.micros(0), Received: t.micros(1), Micros: t.integer(2, 0, maxInt)}
		if !t.bad && s.Received < s.Sent {
			t.fail(1, "received before it was sent")
		}
		if !t.bad {
			out = append(out, s)
		}
	}
	return out, t.err()
}

// FormatSyncs writes syncs.csv whole.
func FormatSyncs(syncs []feeder.Sync) []byte {
	out := []byte(syncsHeader + "\n")
	for _, s := range syncs {
		out = fmt.Appendf(out, "%d,%d,%d\n", s.Sent.Microseconds(), s.Received.Microseconds(), s.Micros)
	}
	return out
}

const (
	maxInt = int64(^uint64(0) >> 1)
	maxMus = maxInt / int64(time.Microsecond)
)

// table walks a CSV file and gathers problems with their places.
type table struct {
	file string
	csv  *csv.Reader
	row  []string
	bad  bool // the present row has a problem
	list ErrorList
	done bool
}

func newTable(file string, src []byte, headers ...string) *table {
	t := &table{file: file, csv: csv.NewReader(bytes.NewReader(src))}
	t.csv.FieldsPerRecord = -1
	head, err := t.csv.Read()
	if err != nil {
		t.syntax(err, fmt.Sprintf("no header: want %q", headers[0]))
		t.done = true
		return t
	}
	got := string(bytes.Join(bytesOf(head), []byte{','}))
	for _, h := range headers {
		if got == h {
			t.csv.FieldsPerRecord = len(head)
			return t
		}
	}
	t.list = append(t.list, SyntaxError{file, 1, 1, fmt.Sprintf("header %q: want %q", got, headers[0])})
	t.done = true
	return t
}

func bytesOf(fields []string) [][]byte {
	out := make([][]byte, len(fields))
	for i, f := range fields {
		out[i] = []byte(f)
	}
	return out
}

func (t *table) next() bool {
	for !t.done && len(t.list) < maxProblems {
		row, err := t.csv.Read()
		if err == nil {
			t.row, t.bad = row, false
			return true
		}
		if err == io.EOF {
			break
		}
		if errors.Is(err, csv.ErrFieldCount) {
			line, col := t.csv.FieldPos(0)
			t.list = append(t.list, SyntaxError{t.file, line, col,
				fmt.Sprintf("%d fields: want %d", len(row), t.csv.FieldsPerRecord)})
			continue
		}
		t.syntax(err, "")
		break
	}
	t.done = true
	return false
}

// syntax records an error of the CSV reader itself.
func (t *table) syntax(err error, whenEmpty string) {
	var p *csv.ParseError
	switch {
	case errors.As(err, &p):
		t.list = append(t.list, SyntaxError{t.file, p.Line, p.Column, p.Err.Error()})
	case err == io.EOF:
		t.list = append(t.list, SyntaxError{t.file, 1, 1, whenEmpty})
	default:
		t.list = append(t.list, SyntaxError{t.file, 1, 1, err.Error()})
	}
}

// line is that of the last row.
func (t *table) line() int {
	if t.row == nil {
		return 1
	}
	line, _ := t.csv.FieldPos(0)
	return line
}

func (t *table) fail(field int, format string, args ...any) {
	t.bad = true
	line, col := t.csv.FieldPos(field)
	t.list = append(t.list, SyntaxError{t.file, line, col, fmt.Sprintf(format, args...)})
}

// integer reads a field: decimal, or hexadecimal after 0x.
func (t *table) integer(field int, lo, hi int64) int64 {
	s := t.row[field]
	base, digits := 10, s
	if len(s) > 2 && s[0] == '0' && (s[1] == 'x' || s[1] == 'X') {
		base, digits = 16, s[2:]
	}
	v, err := strconv.ParseInt(digits, base, 64)
	if err != nil || digits[0] == '+' {
		t.fail(field, "%q is not a whole number", s)
		return lo
	}
	if v < lo || v > hi {
		t.fail(field, "%s is out of range %d..%d", s, lo, hi)
		return lo
	}
	return v
}

func (t *table) micros(field int) time.Duration {
	return time.Duration(t.integer(field, -maxMus, maxMus)) * time.Microsecond
}

func (t *table) err() error {
	if len(t.list) == 0 {
		return nil
	}
	return t.list
}
