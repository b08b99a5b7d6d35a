package reports

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Longest texts, in characters. What is longer is cut, and says so.
const (
	longText  = 4000 // running text
	longName  = 100  // names in headings and tables
	shortName = 18   // names beside the frame axis
)

// Visible makes a text safe to show on a terminal: the same as is done to every
// untrusted text of a report.
func Visible(s string) string { return clean(s) }

// clean makes a text safe to read: bytes that are not UTF-8, control
// characters, and the marks that turn the reading order round for what follows
// (Unicode Standard Annex #9, explicit formatting characters) are shown by
// their code point instead of doing their work. Letters that read from right
// to left are left alone.
func clean(s string) string {
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		switch {
		case r == '\n' || r == '\t':
			b.WriteRune(r)
		case unicode.IsControl(r), r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069:
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// text is clean running text of at most longText characters.
func text(s string) string {
	short, rest := cut(clean(s), longText)
	if rest > 0 {
		return fmt.Sprintf("%s … (%s more characters)", short, count(rest))
	}
	return short
}

// cut keeps at most n characters and says how many it left out.
func cut(s string, n int) (string, int) {
	rest := utf8.RuneCountInString(s) - n
	if rest <= 0 {
		return s, 0
	}
	i := 0
	for range n {
		_, size := utf8.DecodeRuneInString(s[i:])
		i += size
	}
	return s[:i], rest
}

// A name is a text that may be too long for its place; the whole of it, up to
// longText, is then in Full.
type name struct{ Short, Full string }

func named(s string, n int) name {
	s = clean(s)
	short, rest := cut(s, n)
	if rest == 0 {
		return name{Short: s}
	}
	return name{Short: short + "…", Full: text(s)}
}

// nameBesideAxis is a name for the frame axis. Of a long path the end is kept: that
// is where repeats differ.
func nameBesideAxis(s string) name {
	n := named(s, shortName)
	if n.Full == "" || !strings.Contains(s, "/") {
		return n
	}
	end := []rune(clean(s))
	n.Short = "…" + string(end[len(end)-shortName:])
	return n
}

// count writes a whole number in groups of three.
func count[T int | int64](n T) string {
	s := strconv.FormatInt(int64(n), 10)
	sign := ""
	if s[0] == '-' {
		sign, s = "−", s[1:]
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return sign + s
}

// plural writes a number with its noun.
func plural[T int | int64](n T, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return count(n) + " " + many
}

// decimal writes a number with n places, or a dash when there is none.
func decimal(f float64, n int) string {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return "–"
	}
	return strings.Replace(strconv.FormatFloat(f, 'f', n, 64), "-", "−", 1)
}

// signed is decimal with a plus sign.
func signed(f float64, n int) string {
	s := decimal(f, n)
	if f > 0 {
		return "+" + s
	}
	return s
}

// percent writes a share with at most one place, rounded away from certainty: low ends
// down, high ends up.
func percent(f float64, up bool) string {
	f = min(max(f, 0), 1) * 1000
	if up {
		f = max(math.Ceil(f-1e-9), 0)
	} else {
		f = math.Floor(f + 1e-9)
	}
	return strconv.FormatFloat(f/10, 'f', -1, 64) + "\u00a0%"
}

func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2 January 2006, 15:04 UTC")
}

// familyName is how a family is called on the page: F1 is the first.
func familyName(i int) string { return "F" + strconv.Itoa(i+1) }
