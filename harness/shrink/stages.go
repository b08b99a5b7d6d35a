package shrink

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"latchproof/specs/program"
)

// A statement is known by its place in the order of the text, from 0, repeats
// before their bodies.

// edit copies parts with what change makes of each; a part for which it is false
// is left out, and so is a repeat of which nothing is left.
func edit(parts []program.Part, change func(at, depth int, p program.Part) (program.Part, bool)) []program.Part {
	at := 0
	var walk func(parts []program.Part, depth int) []program.Part
	walk = func(parts []program.Part, depth int) []program.Part {
		var out []program.Part
		for _, p := range parts {
			q, keep := change(at, depth, p)
			at++
			if p.Body != nil {
				if q.Body = walk(p.Body, depth+1); len(q.Body) == 0 {
					keep = false
				}
			}
			if keep {
				out = append(out, q)
			}
		}
		return out
	}
	return walk(parts, 0)
}

// node is a statement and where it is.
type node struct {
	at, depth int
	part      program.Part
}

func nodes(parts []program.Part) []node {
	var out []node
	edit(parts, func(at, depth int, p program.Part) (program.Part, bool) {
		out = append(out, node{at, depth, p})
		return p, true
	})
	return out
}

// replace changes one statement.
func replace(parts []program.Part, place int, change func(*program.Part)) []program.Part {
	return edit(parts, func(at, _ int, p program.Part) (program.Part, bool) {
		if at == place {
			change(&p)
		}
		return p, true
	})
}

func (s *search) cut(reads int64) (bool, error) {
	if reads < 1 || reads >= program.ReadsOf(s.parts) {
		return false, nil
	}
	return s.try(program.Cut(s.parts, reads), fmt.Sprintf("the first %d reads", reads))
}

// statements takes statements out, level by level.
func (s *search) statements() error {
	for depth := 0; ; depth++ {
		base := s.parts
		var level []node
		for _, n := range nodes(base) {
			if n.depth == depth {
				level = append(level, n)
			}
		}
		if len(level) == 0 {
			return nil
		}
		have := make([]int, len(level)) // what is kept so far
		for i := range have {
			have[i] = i
		}
		_, err := Minimize(len(level), func(kept []int) (bool, error) {
			stays := map[int]bool{}
			for _, i := range kept {
				stays[level[i].at] = true
			}
			var out []int
			for _, i := range have {
				if !stays[level[i].at] {
					out = append(out, i)
				}
			}
			ok, err := s.try(edit(base, func(at, d int, p program.Part) (program.Part, bool) {
				return p, d != depth || stays[at]
			}), "without "+lines(level, out))
			if ok {
				have = kept
			}
			return ok, err
		})
		if err != nil {
			return err
		}
	}
}

// lines names statements of a level by their lines: "line 4", "lines 4-9, 12".
func lines(level []node, which []int) string {
	var out []string
	several := len(which) > 1
	for i := 0; i < len(which); {
		j := i
		for j+1 < len(which) && which[j+1] == which[j]+1 && level[which[j+1]].part.Line > level[which[j]].part.Line {
			j++
		}
		from, to := level[which[i]].part.Line, level[which[j]].part.Line
		if from == to {
			out = append(out, strconv.Itoa(from))
		} else {
			out = append(out, fmt.Sprintf("%d-%d", from, to))
		}
		i = j + 1
	}
	word := "line "
	if several {
		word = "lines "
	}
	return word + strings.Join(out, ", ")
}

// counts makes every rest and hold as short as it can be, the longest first.
func (s *search) counts() error {
	return s.shorten(func(p program.Part) bool { return p.Body == nil }, func(p program.Part, n int64) string {
		return fmt.Sprintf("line %d for %s instead of %d", p.Line, count(n, "read"), p.Count)
	})
}

// passes does so with the passes of every repeat.
func (s *search) passes() error {
	return s.shorten(func(p program.Part) bool { return p.Body != nil }, func(p program.Part, n int64) string {
		return fmt.Sprintf("%s of the repeat of line %d instead of %d", count(n, "pass"), p.Line, p.Count)
	})
}

func (s *search) shorten(which func(program.Part) bool, what func(program.Part, int64) string) error {
	all := slices.DeleteFunc(nodes(s.parts), func(n node) bool { return !which(n.part) || n.part.Count == 1 })
	slices.SortStableFunc(all, func(a, b node) int { return cmp.Compare(b.part.Reads(), a.part.Reads()) })
	for _, n := range all {
		_, err := Least(n.part.Count, s.again, func(c int64) (bool, error) {
			ok, err := s.try(replace(s.parts, n.at, func(p *program.Part) { p.Count = c }), what(n.part, c))
			if ok {
				n.part.Count = c
			}
			return ok, err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// buttons leaves every button out of every hold once.
func (s *search) buttons() error {
	for _, n := range nodes(s.parts) {
		if n.part.Body != nil {
			continue
		}
		for bit := range 32 {
			less := n.part.State
			var one program.State
			if bit < 16 {
				one.P1 = 1 << bit
			} else {
				one.P2 = 1 << (bit - 16)
			}
			less.P1, less.P2 = less.P1&^one.P1, less.P2&^one.P2
			if less == n.part.State {
				continue
			}
			ok, err := s.try(replace(s.parts, n.at, func(p *program.Part) { p.State = less }),
				fmt.Sprintf("line %d without %s", n.part.Line, s.res.Program.Names(one)))
			if err != nil {
				return err
			}
			if ok {
				n.part.State = less
			}
		}
	}
	return nil
}

// join writes neighbours that press the same as one statement, and says whether
// there were any. What is pressed stays, so nothing is tested.
func (s *search) join() (bool, error) {
	joined := program.Joined(s.parts)
	if len(nodes(joined)) == len(nodes(s.parts)) {
		return false, nil
	}
	return s.try(joined, "")
}

// maxWritten is how many statements a repeat may come to when it is written out.
const maxWritten = 1000

// unroll writes repeats out, one after another, and says whether the program
// became shorter by it. One that becomes no shorter stays as it was.
func (s *search) unroll() (bool, error) {
	for _, n := range nodes(s.parts) {
		if n.part.Body == nil || n.part.Count > 1 && n.part.Count > maxWritten/int64(len(nodes(n.part.Body))) {
			continue
		}
		parts, hash, p := s.parts, s.hash, s.res.Program
		if ok, err := s.try(writtenOut(parts, n.at), ""); err != nil || !ok {
			return false, err // the same presses: known to part
		}
		if err := s.statements(); err != nil {
			return false, s.shorter(parts, hash, p, err)
		}
		if s.hash != hash || n.part.Count == 1 {
			return true, nil
		}
		s.parts, s.hash, s.res.Program = parts, hash, p
	}
	return false, nil
}

// shorter puts a program back that did not become shorter by being written out
// when the search ends there.
func (s *search) shorter(parts []program.Part, hash string, p *program.Program, err error) error {
	if s.hash == hash {
		s.parts, s.res.Program = parts, p
	}
	return err
}

// writtenOut writes the repeat at a place out.
func writtenOut(parts []program.Part, place int) []program.Part {
	at := 0
	var walk func(parts []program.Part) []program.Part
	walk = func(parts []program.Part) []program.Part {
		var out []program.Part
		for _, p := range parts {
			here := at
			at++
			if p.Body != nil {
				p.Body = walk(p.Body)
			}
			if here == place {
				out = append(out, p.Unrolled()...)
			} else {
				out = append(out, p)
			}
		}
		return out
	}
	return walk(parts)
}

func count(n int64, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "s"):
		what += "e"
	}
	return fmt.Sprintf("%d %ss", n, what)
}
