package index

import (
	"fmt"
	"slices"
	"strings"

	"latchproof/reports"
)

// answer works out from the sessions, newest first, what holds now and what got
// worse.
func (x *Index) answer() {
	x.Configurations, x.Worse = []Configuration{}, []Change{}
	type key struct {
		bench, revision, firmware string
		simulated                 bool
	}
	at := map[key]int{}
	benches := map[benchKey]bool{}
	told := map[int]map[string]bool{} // specs of a configuration whose latest session was met
	for i := range x.Sessions {
		s := &x.Sessions[i]
		k := key{s.Bench, s.Revision, s.Firmware, s.Simulated}
		c, ok := at[k]
		if !ok {
			c = len(x.Configurations)
			at[k], told[c] = c, map[string]bool{}
			x.Configurations = append(x.Configurations, Configuration{
				Bench: s.Bench, Simulated: s.Simulated, Revision: s.Revision, Firmware: s.Firmware,
				Current: !benches[s.benchKey()], Last: i, Held: []string{}, NotHeld: []string{}, Untold: []string{},
			})
			benches[s.benchKey()] = true
		}
		s.Configuration = c
		conf := &x.Configurations[c]
		conf.Sessions++
		switch s.Verdict {
		case held:
			conf.SessionsHeld++
		case untold:
			conf.SessionsUntold++
		}
		for _, sp := range s.verdicts() {
			if told[c][sp.Name] {
				continue
			}
			told[c][sp.Name] = true
			switch sp.Verdict {
			case held:
				conf.Held = append(conf.Held, sp.Name)
			case notHeld:
				conf.NotHeld = append(conf.NotHeld, sp.Name)
			default:
				conf.Untold = append(conf.Untold, sp.Name)
			}
		}
	}
	for i := range x.Configurations {
		c := &x.Configurations[i]
		switch {
		case len(c.NotHeld) > 0:
			c.Verdict = notHeld
		case len(c.Untold) > 0 || len(c.Held) == 0:
			c.Verdict = untold
		default:
			c.Verdict = held
		}
	}
	x.changes()
	x.falls()
	x.Sentence = x.sentence()
}

// A benchKey is what tells benches apart.
type benchKey struct {
	name      string
	simulated bool
}

func (s *Session) benchKey() benchKey { return benchKey{s.Bench, s.Simulated} }

// verdicts are the specs of a session; of a baseline check without specs, the
// check itself stands for one.
func (s *Session) verdicts() []Spec {
	if len(s.Specs) > 0 {
		return s.Specs
	}
	if s.Asked != "" {
		return []Spec{{Name: s.Asked, Verdict: s.Verdict}}
	}
	return nil
}

// changes finds the specs that held on a bench and do not now.
func (x *Index) changes() {
	type key struct {
		bench benchKey
		spec  string
	}
	type row struct{ since, held int } // -1: none yet
	rows := map[key]*row{}
	var order []key
	for i := range x.Sessions {
		s := &x.Sessions[i]
		if !s.Dated {
			continue
		}
		for _, sp := range s.verdicts() {
			k := key{s.benchKey(), sp.Name}
			r := rows[k]
			if r == nil {
				r = &row{-1, -1}
				rows[k] = r
				order = append(order, k)
			}
			switch {
			case r.held >= 0: // all is known
			case sp.Verdict == notHeld:
				r.since = i
			case sp.Verdict == held:
				r.held = i
			}
		}
	}
	for _, k := range order {
		if r := rows[k]; r.since >= 0 && r.held >= 0 {
			x.Worse = append(x.Worse, Change{Bench: k.bench.name, Spec: k.spec, Held: r.held, Since: r.since, Changed: x.changed(r.held, r.since, k.spec)})
		}
	}
	slices.SortStableFunc(x.Worse, func(a, b Change) int { return a.Since - b.Since })
}

// changed says what differs between two sessions of a bench.
func (x *Index) changed(before, after int, spec string) []string {
	a, b := x.Sessions[before], x.Sessions[after]
	out := []string{}
	say := func(what, from, to string) {
		if from != to && from != "" && to != "" {
			out = append(out, fmt.Sprintf("%s from %s to %s", what, reports.Cut(from, 40), reports.Cut(to, 40)))
		}
	}
	say("firmware", a.Firmware, b.Firmware)
	say("board revision", a.Revision, b.Revision)
	say("board serial", a.FeederSerial, b.FeederSerial)
	say("console serial", a.ConsoleSerial, b.ConsoleSerial)
	program := func(s Session) string {
		for _, sp := range s.Specs {
			if sp.Name == spec {
				return sp.ProgramHash
			}
		}
		return ""
	}
	if p, q := program(a), program(b); p != q && p != "" && q != "" {
		out = append(out, "the program")
	}
	return out
}

// Verdict is what the index comes to: over the current configurations of all
// benches, and what got worse anywhere.
func (x *Index) Verdict() string {
	if len(x.Worse)+len(x.Fell) > 0 {
		return notHeld
	}
	v := untold
	for i, c := range x.current() {
		switch {
		case c.Verdict == notHeld:
			return notHeld
		case c.Verdict == untold:
			v = untold
		case i == 0:
			v = held
		}
	}
	return v
}

func (x *Index) current() (out []Configuration) {
	for _, c := range x.Configurations {
		if c.Current {
			out = append(out, c)
		}
	}
	return out
}

// sentence answers the question in words.
func (x *Index) sentence() string {
	now := x.current()
	if len(now) == 0 {
		return "No session could be read."
	}
	var parts []string
	for _, c := range now {
		if len(parts) == 4 {
			parts = append(parts, fmt.Sprintf("And %s more; the table has them.", reports.Plural(len(now)-4, "bench", "benches")))
			break
		}
		parts = append(parts, c.sentence())
	}
	switch n := len(x.Worse); {
	case n == 1:
		parts = append(parts, "One spec got worse.")
	case n > 1:
		parts = append(parts, reports.Count(n)+" specs got worse.")
	case len(x.Fell) == 0:
		parts = append(parts, "Nothing that held before fails now.")
	}
	switch n := len(x.Fell); {
	case n == 1:
		parts = append(parts, "One spec holds less often than with the board before.")
	case n > 1:
		parts = append(parts, reports.Count(n)+" specs hold less often than with the board before.")
	}
	return strings.Join(parts, " ")
}

func (c Configuration) sentence() string {
	all := len(c.Held) + len(c.NotHeld) + len(c.Untold)
	s := c.name(true) + ": "
	switch {
	case all == 0:
		return s + "nothing was played."
	case len(c.Held) == all && all == 1:
		return s + "its spec held when it was last played."
	case len(c.Held) == all:
		return s + fmt.Sprintf("all %s specs held when they were last played.", reports.Count(all))
	}
	s += fmt.Sprintf("%s of %s held when last played", reports.Count(len(c.Held)), reports.Plural(all, "spec", "specs"))
	if n := len(c.NotHeld); n > 0 {
		s += fmt.Sprintf(", %s did not", reports.Count(n))
	}
	if n := len(c.Untold); n > 0 {
		s += fmt.Sprintf(", %s cannot be told", reports.Count(n))
	}
	return s + "."
}

// name is a configuration in words, with or without its bench.
func (c Configuration) name(bench bool) string {
	var words []string
	if bench {
		words = append(words, benchName(c.Bench, c.Simulated))
	}
	if c.Firmware != "" {
		words = append(words, "firmware "+reports.Cut(c.Firmware, 40))
	}
	if c.Revision != "" {
		words = append(words, "revision "+reports.Cut(c.Revision, 40))
	}
	if c.Firmware == "" && c.Revision == "" {
		words = append(words, "board not told")
	}
	return strings.Join(words, ", ")
}

func benchName(name string, simulated bool) string {
	if name == "" {
		name = "bench without a name"
	}
	name = reports.Cut(name, 40)
	if simulated && !strings.Contains(strings.ToLower(name), "simulated") {
		name += " (simulated)"
	}
	return name
}
