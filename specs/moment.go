package specs

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// MaxFrame is the highest frame a spec may name: twice the most reads a
// program may hold, so that lag frames have room.
const MaxFrame = 1_728_000

// maxOffset is how far from a mark a moment may lie, in reads.
const maxOffset = 864_000

// Moment is a frame of a run. With no Mark it is the frame numbered Offset.
// With a Mark it is the frame of the read Offset reads after that mark; which
// frame that is can differ from run to run.
type Moment struct {
	Mark   string
	Offset int64
}

// Errors of moments that a run cannot place.
var (
	ErrNoMark    = errors.New("no such mark")
	ErrNoRead    = errors.New("read not in the log")
	ErrBackwards = errors.New("range ends before it begins")
)

// momentText is a mark, in the form of program.ValidMark, and an offset. A mark
// never holds a sign before a digit, so the two cannot be confused.
var momentText = regexp.MustCompile(`^(\p{L}[\p{L}\p{M}0-9_]*(?:-\p{L}[\p{L}\p{M}0-9_]*)*)([+-][0-9]{1,6})?$`)

// ParseMoment reads `62`, `jump`, `jump+14` or `jump-2`.
func ParseMoment(s string) (Moment, error) {
	if plainInt.MatchString(s) {
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil || n < 0 || n > MaxFrame {
			return Moment{}, fmt.Errorf("frame %s is not from 0 to %d", short(s), MaxFrame)
		}
		return Moment{Offset: n}, nil
	}
	m := momentText.FindStringSubmatch(s)
	if m == nil || !program.ValidMark(m[1]) {
		return Moment{}, fmt.Errorf("%s is not a moment; want a frame such as 62 or a mark such as jump, jump+14 or jump-2", show(s))
	}
	off := int64(0)
	if m[2] != "" {
		off, _ = strconv.ParseInt(m[2], 10, 64)
	}
	if off > maxOffset || off < -maxOffset {
		return Moment{}, fmt.Errorf("%d reads from a mark is more than %d", off, maxOffset)
	}
	return Moment{Mark: m[1], Offset: off}, nil
}

// maxMoment is the most characters of a moment: a mark of 64, a sign and six
// digits.
const maxMoment = 71

// String is the text that ParseMoment reads.
func (m Moment) String() string {
	switch {
	case m.Mark == "":
		return strconv.FormatInt(m.Offset, 10)
	case m.Offset == 0:
		return m.Mark
	}
	return fmt.Sprintf("%s%+d", m.Mark, m.Offset)
}

// Read is the read meant by a moment with a mark. It may lie before the first
// read or after the program's end. ErrNoMark: the mark is not there, or the
// moment is a plain frame.
func (m Moment) Read(marks []program.Mark) (program.Read, error) {
	for _, k := range marks {
		if k.Name == m.Mark && m.Mark != "" {
			return k.Read + program.Read(m.Offset), nil
		}
	}
	return 0, fmt.Errorf("%w: %s", ErrNoMark, m.Mark)
}

// Frame is the moment's frame in one run: read tells the frame in which the
// console made a read, and false when the log has no such read. Errors:
// ErrNoMark, ErrNoRead (what the moment shows is unseen).
func (m Moment) Frame(read func(program.Read) (console.Frame, bool), marks []program.Mark) (console.Frame, error) {
	if m.Mark == "" {
		return console.Frame(m.Offset), nil
	}
	r, err := m.Read(marks)
	if err != nil {
		return 0, err
	}
	f, ok := read(r)
	if !ok {
		return 0, fmt.Errorf("%w: read %d (%s)", ErrNoRead, r, m)
	}
	return f, nil
}

// When is the frame or the range of frames at which a checkpoint looks, ends
// included. A single moment has From equal to To and Range false.
type When struct {
	From, To Moment
	Range    bool // written as [a, b]
}

// String is `62`, `jump+14` or `[380, 400]`.
func (w When) String() string {
	if !w.Range {
		return w.From.String()
	}
	return "[" + w.From.String() + ", " + w.To.String() + "]"
}

// Frames are the first and the last frame in one run. Errors as of
// Moment.Frame, and ErrBackwards when the range is empty in this run.
func (w When) Frames(read func(program.Read) (console.Frame, bool), marks []program.Mark) (from, to console.Frame, err error) {
	if from, err = w.From.Frame(read, marks); err != nil {
		return 0, 0, err
	}
	if to, err = w.To.Frame(read, marks); err != nil {
		return 0, 0, err
	}
	if from > to {
		return 0, 0, fmt.Errorf("%w: frames %d to %d", ErrBackwards, from, to)
	}
	return from, to, nil
}

// momentShape reads a Moment.
type momentShape struct{}

func (momentShape) Schema() map[string]any {
	return map[string]any{"oneOf": []any{
		map[string]any{"type": "integer", "minimum": 0, "maximum": MaxFrame},
		map[string]any{"type": "string", "maxLength": maxMoment, "pattern": momentText.String()},
	}}
}

func (momentShape) Read(v *Value) (Moment, bool) {
	n, ok := v.scalar()
	if !ok {
		v.want("a frame or a mark")
		return Moment{}, false
	}
	switch n.Tag {
	case "!!int", "!!float":
		x, ok := Int{0, MaxFrame}.Read(v)
		return Moment{Offset: x}, ok
	case "!!str":
		if plainInt.MatchString(n.Value) {
			v.Fail("%s is a frame in quotes; write the number without quotes", show(n.Value))
			return Moment{}, false
		}
		m, err := ParseMoment(n.Value)
		if err != nil {
			v.Fail("%v", err)
			return Moment{}, false
		}
		return m, true
	}
	v.want("a frame or a mark")
	return Moment{}, false
}

// whenShape reads a When: a moment, or a list of two.
type whenShape struct{}

func (whenShape) pair() List[Moment] {
	return List[Moment]{Of: momentShape{}, Min: 2, Max: 2, Says: "a range of two moments, [from, to]"}
}

func (w whenShape) Schema() map[string]any {
	one := momentShape{}.Schema()["oneOf"].([]any)
	return map[string]any{"oneOf": append(append([]any{}, one...), w.pair().Schema())}
}

func (w whenShape) Read(v *Value) (When, bool) {
	if v.node.Kind != yaml.SequenceNode {
		m, ok := momentShape{}.Read(v)
		return When{From: m, To: m}, ok
	}
	two, ok := w.pair().Read(v)
	if !ok {
		return When{}, false
	}
	at := When{From: two[0], To: two[1], Range: true}
	if at.From.Mark == at.To.Mark && at.From.Offset > at.To.Offset {
		v.Fail("%s ends before it begins", at)
		return When{}, false
	}
	return at, true
}

// lastRead is the number of the last read that must be logged so that the
// moment has a frame, when the game makes perFrame reads in every frame.
func (m Moment) lastRead(marks []program.Mark, perFrame int64) int64 {
	if m.Mark == "" {
		return (m.Offset+1)*perFrame - 1
	}
	r, err := m.Read(marks)
	if err != nil {
		return math.MinInt64
	}
	return int64(r)
}

// list is a text of a few names for messages.
func list(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	if len(names) > 12 {
		return strings.Join(names[:12], ", ") + ", ..."
	}
	return strings.Join(names, ", ")
}
