package draft

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"latchproof/harness/look"
)

// Repeats is how often a drafted spec is played: fewer say nothing of what
// differs from run to run.
const Repeats = 3

// Source is the text of the spec.
func (d *Draft) Source() []byte {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	note := func(indent, text string) { line("%s# %s", indent, oneLine(text)) }
	note("", "A first spec, drafted from "+d.From+". Read it, keep what")
	note("", "matters in the game, and play it several times: it has seen one run only.")
	if d.within == 0 {
		note("", "within: 0 asks for the very pixel; a card that frames its picture otherwise may")
		note("", "need within: 1, which lets one step of a thing more or less pass.")
	} else {
		note("", "The two fields of this capture lie half a line apart, and a frame may fall on")
		note("", "either in another run: hence within: 1 and the lower scores.")
	}
	line("version: 1")
	line("spec: %s", scalar(d.Name))
	line("program: %s", scalar(d.ProgramFile))
	line("console: %s", scalar(d.Console))
	line("start: %s", scalar(d.Start))
	line("repeats: %d", Repeats)
	line("")
	if a := d.Anchor; a != nil {
		for _, text := range a.about {
			note("", text)
		}
		line("anchor: {frame: %d, shows: %s}", a.Frame, a.shows(1))
		line("")
	} else {
		note("", "No anchor: nothing that appears at once was found. A bench that was never")
		note("", "calibrated needs one.")
		line("")
	}
	line("checkpoints:")
	for n, i := range d.Items {
		if n > 0 {
			line("")
		}
		for _, text := range i.about {
			note("  ", text)
		}
		line("  - name: %s", scalar(i.Name))
		line("    at: %s", momentText(i))
		if i.choice == nil {
			line("    black: true")
		} else {
			line("    shows: %s", i.shows(d.within))
		}
	}
	if len(d.Left) > 0 {
		line("")
		note("", "Left out:")
		for _, text := range d.Left {
			note("", "- "+text)
		}
	}
	return []byte(b.String())
}

func momentText(i Item) string {
	if i.At.Mark == "" {
		return i.At.String()
	}
	return scalar(i.At.String())
}

// shows is the check of an item.
func (i Item) shows(within int) string {
	score := ""
	if s, ok := i.choice.threshold(); ok {
		score = fmt.Sprintf(", score: %.2f", s)
	}
	at := i.choice.in.Min
	return fmt.Sprintf("{template: %s, near: [%d, %d], within: %d%s}", scalar(i.file), at.X, at.Y, within, score)
}

// The room that the default threshold must have below the weakest right score and
// above the best wrong one.
const (
	roomAbove = 0.03
	roomBelow = 0.05
)

// threshold is the score from which on the check holds; written says that it must
// stand in the spec, because the default leaves no room.
func (c choice) threshold() (score float64, written bool) {
	wrong := c.second
	if c.other <= look.DefaultScore-roomBelow {
		wrong = max(wrong, c.other)
	} // else it shows there too, and no threshold parts the two
	if c.weakest >= look.DefaultScore+roomAbove && !c.woven {
		return look.DefaultScore, false
	}
	return min(max((c.weakest+wrong)/2, 0.1), look.DefaultScore), true
}

// plain is text that YAML takes as the string that it looks like.
var plain = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_+./-]*$`)

// scalar writes a string for YAML, in quotes unless it is plain.
func scalar(s string) string {
	switch strings.ToLower(s) {
	case "true", "false", "null", "yes", "no", "on", "off", "y", "n":
	default:
		if plain.MatchString(s) {
			return s
		}
	}
	return quote(s)
}

// quote writes a string in double quotes; YAML has the escapes of strconv but
// for \U with its letters, which it has too, and \x of single bytes, which never
// come from valid text.
func quote(s string) string { return strconv.Quote(strings.ToValidUTF8(s, "?")) }

// oneLine is text for a comment: nothing in it can end the line.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == '\u0085' || r == '\ufeff' || !unicode.IsPrint(r) && r != ' ' {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}
