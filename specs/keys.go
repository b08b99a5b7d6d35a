package specs

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
	"time"

	"latchproof/specs/console"
)

// The tables of this file say which keys a spec has. Parse reads by them and
// Schema is made from them.

var (
	aboutShape = Text{Min: 0, Max: 2000, Pattern: regexp.MustCompile(`^([^\p{C}]|\n)*$`),
		Says: "a text of visible characters"}
	labelShape = Text{Min: 1, Max: 40, Pattern: regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_.-]*$`),
		Says: "a label of letters, digits, `_`, `.` and `-`"}
)

// versionShape is the one version that this package reads.
type versionShape struct{}

func (versionShape) Schema() map[string]any { return map[string]any{"const": Version} }

func (versionShape) Read(v *Value) (int64, bool) {
	n, ok := Int{0, 1 << 31}.Read(v)
	if ok && n != Version {
		v.Fail("version %d is not known; this program reads version %d", n, Version)
	}
	return n, ok && n == Version
}

// specMapping is the whole file.
func specMapping(kinds Registry) Mapping[Spec] {
	keep := func(s *Spec, key string, at Pos) { s.at[key] = at }
	m := Mapping[Spec]{
		Start: func(at Pos) Spec {
			return Spec{Start: StartReset, Repeats: 1, Tail: -1, MaxReads: MaxReads, at: map[string]Pos{"": at}}
		},
		Fields: []Field[Spec]{
			Key("version", versionShape{}, "Version of this format: 1.",
				func(*Spec, int64, Pos) {}).Need(),
			Key("spec", NameShape, "Name of the spec, shown in reports: 1 to 80 visible characters.",
				func(s *Spec, x string, at Pos) { s.Name = x; keep(s, "spec", at) }).Need(),
			Key("about", aboutShape, "What the spec is for, in plain words.",
				func(s *Spec, x string, _ Pos) { s.About = x }),
			Key("program", Path{Says: "a button program inside the spec's folder, such as first-lamp.prog"},
				"File of the button program, inside the spec's folder.",
				func(s *Spec, x string, at Pos) { s.ProgramFile = x; keep(s, "program", at) }).Need(),
			Key("console", Path{Says: "a built-in console profile or a profile file inside the spec's folder"},
				"Console profile: a built-in name ("+strings.Join(console.Names(), ", ")+") or a file inside the spec's folder.",
				func(s *Spec, x string, at Pos) { s.ConsoleName = x; keep(s, "console", at) }).Need(),
			Key("start", Choice{StartReset, StartPower}, "How a run starts: `reset` pulses the reset line, `power` cuts and restores power.",
				func(s *Spec, x string, _ Pos) { s.Start = x }).Else(StartReset),
			Key("repeats", Int{1, MaxRepeats}, "How many times the program is played. Lockstep is judged from 2 repeats up.",
				func(s *Spec, x int64, at Pos) { s.Repeats = int(x); keep(s, "repeats", at) }).Else(1),
			Key("timeout", Duration{time.Second, 24 * time.Hour}, "Longest time that one run may take, 1s to 24h, such as 90s or 2m. None by default.",
				func(s *Spec, x time.Duration, _ Pos) { s.Timeout = x }),
			Key("max_reads", Int{1, MaxReads}, "The most reads that the program may hold.",
				func(s *Spec, x int64, _ Pos) { s.MaxReads = x }).Else(MaxReads),
			Key("tail", Int{0, MaxTail}, fmt.Sprintf("Reads that are logged, with released buttons, after the program's end. By default as many as the checkpoints need and %d more.", Margin),
				func(s *Spec, x int64, at Pos) { s.Tail = int(x); keep(s, "tail", at) }),
			Key("labels", List[string]{Of: labelShape, Min: 0, Max: MaxLabels, Unique: true, Says: "a list of labels"},
				"Labels for choosing among specs.",
				func(s *Spec, x []string, at Pos) { s.Labels = x; keep(s, "labels", at) }),
			partKey("anchor", anchorMapping(kinds), "Ties the capture to the frame count: the frame in which this check first holds, in every run.",
				func(s *Spec, x Anchor, _ Pos) { s.Anchor = &x }),
			partKey("checkpoints", List[Checkpoint]{Of: checkpointMapping(kinds), Min: 1, Max: MaxCheckpoints, Partial: true, Says: "a list of checkpoints"},
				"What the screen must show, and when.",
				func(s *Spec, x []Checkpoint, at Pos) { s.Checkpoints = x; keep(s, "checkpoints", at) }),
			Key("lockstep", lockstepMapping, "Which repeats must show the same picture on the same frame. By default all. Needs 2 repeats or more.",
				func(s *Spec, x Lockstep, at Pos) { s.Lockstep = x; s.lockstepGiven = true; keep(s, "lockstep", at) }),
		},
		Finish: finishSpec,
		Extra: map[string]any{
			"anyOf": []any{
				map[string]any{"required": []string{"checkpoints"}},
				atLeastTwoRepeats(),
			},
			"dependentSchemas": map[string]any{"lockstep": atLeastTwoRepeats()},
		},
	}
	if p := kinds.pointer(); p != nil {
		m.Fields = append(m.Fields, partKey("points", pointsShape(p), "Named points of templates, for `measure`.",
			func(s *Spec, x []Entry[any], _ Pos) {
				for _, e := range x {
					s.Points = append(s.Points, Point{Name: e.Name, Of: e.Of, Line: e.Pos.Line, pos: e.Pos})
				}
			}))
	}
	if len(kinds.eventers()) > 0 {
		m.Fields = append(m.Fields, Key("timing", timingMapping(kinds), "How long it takes from one event to another, in frames and seconds.",
			func(s *Spec, x Timing, at Pos) { s.Timing = &x; keep(s, "timing", at) }))
	}
	return m
}

// pointName is the form of a point's name.
var pointName = Text{Min: 1, Max: 40, Pattern: labelShape.Pattern, Says: "a name of letters, digits, `_`, `.` and `-`"}

// pointShape is one point.
type pointShape struct{ kind Pointer }

func (p pointShape) Schema() map[string]any { return clone(p.kind.PointSchema()) }

func (p pointShape) Read(v *Value) (any, bool) {
	x := p.kind.DecodePoint(v)
	return x, x != nil
}

func pointsShape(p Pointer) Table[any] {
	return Table[any]{Of: pointShape{p}, Name: pointName, Max: MaxPoints, Says: "a mapping of named points"}
}

func atLeastTwoRepeats() map[string]any {
	return map[string]any{
		"required":   []string{"repeats"},
		"properties": map[string]any{"repeats": map[string]any{"minimum": 2}},
	}
}

// finishSpec checks the keys of a spec together.
func finishSpec(s *Spec, v *Value, have func(string) (*Value, bool)) {
	_, repeatsGiven := have("repeats")
	repeatsRead := !repeatsGiven || s.at["repeats"] != Pos{}
	if lock, ok := have("lockstep"); ok && repeatsRead {
		switch {
		case s.Repeats < 2:
			lock.Fail("needs 2 repeats or more, have %d", s.Repeats)
		case s.lockstepGiven && s.Lockstep.Required > s.Repeats:
			at := s.at["lockstep"]
			at.Key = "lockstep.required"
			v.doc.problems.add(at.Errorf("%d are more than the %d repeats", s.Lockstep.Required, s.Repeats))
		}
	}
	if !s.lockstepGiven {
		s.Lockstep.Required = s.Repeats
	}
	if _, ok := have("checkpoints"); !ok && repeatsRead && s.Repeats < 2 {
		v.Fail("nothing to judge: give checkpoints, or repeats of 2 or more")
	}
	seen := map[string]bool{}
	for _, l := range s.Labels {
		if seen[l] {
			v.doc.problems.add(s.at["labels"].Errorf("%s is given twice", l))
		}
		seen[l] = true
	}
	names := map[string]int{}
	for _, c := range s.Checkpoints {
		if line, ok := names[c.Name]; ok && c.Name != "" {
			v.doc.problems.add(c.pos.Errorf("a second checkpoint named %s; the first is on line %d", show(c.Name), line))
			continue
		}
		names[c.Name] = c.Line
	}
}

var lockstepMapping = Mapping[Lockstep]{Fields: []Field[Lockstep]{
	Key[Lockstep, int64]("required", Int{2, MaxRepeats}, "How many of the repeats must stay in lockstep with one another, at most all of them.",
		func(l *Lockstep, x int64, _ Pos) { l.Required = int(x) }).Need(),
}}

func anchorMapping(all Registry) Mapping[Anchor] {
	kinds := all.single()
	return Mapping[Anchor]{
		Fields: append([]Field[Anchor]{
			Key("frame", Int{0, MaxFrame}, "Number of the frame; frame 0 is that of the first read after reset.",
				func(a *Anchor, x int64, _ Pos) { a.Frame = console.Frame(x) }).Need(),
		}, kindFields(kinds, func(a *Anchor, kind string, check any) { a.Kind, a.Check = kind, check })...),
		Finish: func(_ *Anchor, v *Value, have func(string) (*Value, bool)) { oneKind(kinds, v, have) },
		Extra:  kindRules(kinds, nil),
	}
}

func checkpointMapping(kinds Registry) Mapping[Checkpoint] {
	return Mapping[Checkpoint]{
		Start: func(at Pos) Checkpoint { return Checkpoint{Line: at.Line, pos: at} },
		Fields: append([]Field[Checkpoint]{
			Key("name", NameShape, "Name of the checkpoint, unlike any other in the spec: 1 to 80 visible characters.",
				func(c *Checkpoint, x string, at Pos) { c.Name, c.pos = x, at }).Need(),
			Key("at", whenShape{}, "When: a frame such as 62; a mark of the program and reads from it such as jump, jump+14 or jump-2; or a range [from, to], both included.",
				func(c *Checkpoint, x When, at Pos) { c.At, c.atPos = x, at }).Need(),
			Key("every", Flag{}, "With a range: true when it must hold in all frames of the range, false when one frame is enough.",
				func(c *Checkpoint, x bool, _ Pos) { c.Every = x }).Else(false),
			Key("unseen", Int{0, MaxFrame}, "Only with `every: true`: how many frames of the range may lack a picture. More make the verdict unseen.",
				func(c *Checkpoint, x int64, _ Pos) { c.Unseen = int(x) }).Else(0),
		}, kindFields(kinds, func(c *Checkpoint, kind string, check any) { c.Kind, c.Check = kind, check })...),
		Finish: func(c *Checkpoint, v *Value, have func(string) (*Value, bool)) {
			oneKind(kinds, v, have)
			if every, ok := have("every"); ok && seriesOf(kinds, have) == "" && c.atPos != (Pos{}) && !c.At.Range {
				every.Fail("only with a range; write `at: [from, to]`")
			}
			if k := seriesOf(kinds, have); k != "" {
				c.Series = true
				if c.atPos != (Pos{}) && !c.At.Range {
					at, _ := have("at")
					at.Fail("%s needs a range; write `at: [from, to]`", k)
				}
				if every, ok := have("every"); ok {
					every.Fail("not with %s, which is about the whole range", k)
				}
				return
			}
			if unseen, ok := have("unseen"); ok && !c.Every {
				unseen.Fail("only with every: true")
			}
		},
		Extra: kindRules(kinds, map[string]any{
			"every":  map[string]any{"properties": map[string]any{"at": map[string]any{"type": "array"}}},
			"unseen": unseenRule(kinds),
		}),
	}
}

// seriesOf is the kind of a checkpoint that judges its range together, or empty.
func seriesOf(kinds Registry, have func(string) (*Value, bool)) string {
	for _, k := range kinds.series() {
		if _, ok := have(k); ok {
			return k
		}
	}
	return ""
}

// unseenRule is what `unseen` goes with: every: true, or a kind about the whole
// range.
func unseenRule(kinds Registry) map[string]any {
	every := map[string]any{
		"required":   []string{"every"},
		"properties": map[string]any{"every": map[string]any{"const": true}},
	}
	of := []any{every}
	for _, k := range kinds.series() {
		of = append(of, map[string]any{"required": []string{k}})
	}
	if len(of) == 1 {
		return every
	}
	return map[string]any{"anyOf": of}
}

// kindShape is the value of a kind's key.
type kindShape struct{ schema map[string]any }

func (k kindShape) Schema() map[string]any { return clone(k.schema) }

// kindFields are the keys of all kinds and their companions.
func kindFields[S any](kinds Registry, set func(s *S, kind string, check any)) []Field[S] {
	var fields []Field[S]
	for _, k := range kinds {
		fields = append(fields, Field[S]{Name: k.Key(), shape: kindShape{k.Schema()}, read: func(s *S, v *Value) {
			if check := k.Decode(v); check != nil {
				set(s, k.Key(), check)
			}
		}})
	}
	beside := kinds.companions()
	names := make([]string, 0, len(beside))
	for n := range beside {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		fields = append(fields, Field[S]{Name: n, shape: kindShape{beside[n].schema()}, read: func(*S, *Value) {}})
	}
	return fields
}

// oneKind reports a mapping that has no kind, or several, or a companion key
// without its kind.
func oneKind(kinds Registry, v *Value, have func(string) (*Value, bool)) {
	var found []string
	for _, k := range kinds.keys() {
		if c, ok := have(k); ok {
			found = append(found, k)
			if len(found) > 1 {
				c.Fail("a second kind of check beside %s; one is allowed", found[0])
			}
		}
	}
	if len(found) == 0 {
		v.Fail("no check; want one of %s", list(kinds.keys()))
		return
	}
	for name, c := range kinds.companions() {
		if x, ok := have(name); ok && !slices.Contains(c.kinds(), found[0]) {
			x.Fail("goes with %s, not with %s", strings.Join(c.kinds(), " and "), found[0])
		}
	}
}

// properties are those that a rule about a key demands of the other keys.
func properties(deps map[string]any, key string) map[string]any {
	rule, ok := deps[key].(map[string]any)
	if !ok {
		rule = map[string]any{}
		deps[key] = rule
	}
	props, ok := rule["properties"].(map[string]any)
	if !ok {
		props = map[string]any{}
		rule["properties"] = props
	}
	return props
}

// kindRules are the same rules for the schema, with those of dependent added.
func kindRules(kinds Registry, dependent map[string]any) map[string]any {
	one := []any{}
	for _, k := range kinds.keys() {
		one = append(one, map[string]any{"required": []string{k}})
	}
	rules := map[string]any{"oneOf": one}
	if len(one) == 0 {
		rules = map[string]any{"not": map[string]any{}}
	}
	deps := map[string]any{}
	for k, x := range dependent {
		deps[k] = x
	}
	for name, c := range kinds.companions() {
		with := []any{}
		for _, t := range c {
			with = append(with, map[string]any{"required": []string{t.kind}})
			if !c.alike() {
				properties(deps, t.kind)[name] = t.schema
			}
		}
		deps[name] = map[string]any{"anyOf": with}
	}
	for _, k := range kinds.series() {
		properties(deps, k)["at"] = map[string]any{"type": "array"}
		deps[k].(map[string]any)["not"] = map[string]any{"required": []string{"every"}}
	}
	if len(deps) > 0 {
		rules["dependentSchemas"] = deps
	}
	return rules
}
