package program

import (
	"strings"

	"latchproof/specs/console"
)

// buttons reads "right + b + p2:a", cut into words, as a state. It reports
// every problem through fail and is false when there was one.
func buttons(tokens []token, p console.Profile, fail func(col int, format string, args ...any)) (State, bool) {
	var s State
	ok := true
	bad := func(t token, format string, args ...any) {
		fail(t.col, format, args...)
		ok = false
	}
	wantButton := true
	for i, t := range tokens {
		if t.text == "+" {
			if wantButton {
				bad(t, `a button is missing before "+"`)
			}
			if i == len(tokens)-1 {
				bad(t, `a button is missing after "+"`)
			}
			wantButton = true
			continue
		}
		if !wantButton {
			bad(t, `%s needs a "+" before it`, quote(t.text))
		}
		wantButton = false
		port, name, bits := "p1", t.text, &s.P1
		if before, after, found := strings.Cut(t.text, ":"); found {
			port, name = before, after
		}
		switch port {
		case "p1":
		case "p2":
			if p.Ports < 2 {
				bad(t, "console %s has one port; there is no p2", p.Name)
				continue
			}
			bits = &s.P2
		default:
			bad(t, "unknown port %s; ports are p1 and p2", quote(port))
			continue
		}
		if name == "" {
			bad(t, "a button is missing after %q", port+":")
			continue
		}
		bit, known := p.ButtonBit(name)
		if !known {
			if near, found := console.Nearest(name, p.Buttons); found {
				bad(t, "unknown button %s; did you mean %q?", quote(name), near)
			} else {
				bad(t, "unknown button %s; console %s has %s", quote(name), p.Name, strings.Join(p.Buttons, " "))
			}
			continue
		}
		if *bits>>bit&1 == 1 {
			bad(t, "button %q twice", t.text)
			continue
		}
		*bits |= 1 << bit
	}
	return s, ok
}

// names writes a state as buttons reads it; nothing pressed is "".
func names(s State, p console.Profile) string {
	first, second := p.StateNames(s.P1), p.StateNames(s.P2)
	if second == "" {
		return first
	}
	second = "p2:" + strings.ReplaceAll(second, "+", "+p2:")
	if first == "" {
		return second
	}
	return first + "+" + second
}
