package claim

import (
	"strings"

	"latchproof/specs"
	"latchproof/specs/console"
)

// Limits of an own spec beyond those of any spec, because a stranger's spec can
// ask for work as well as for memory.
const (
	MaxOwnCheckpoints = 50
	// MaxOwnLooks is how many pictures all checkpoints together may be judged on:
	// ten minutes at 60 a second.
	MaxOwnLooks = 36_000
)

// ownRules are what an own spec must hold before the files that it names are
// read.
func (o *opening) ownRules(s *specs.Spec) (bad specs.ErrorList) {
	c := &o.s.Claim
	for _, name := range s.Files() {
		if why := badName(beside(c.Spec, name)); why != "" {
			bad = append(bad, fileStart(s.File).Errorf("%q %s", short(name), why))
		}
	}
	if why := byLine.fits(s.Name); why != "" {
		bad = append(bad, s.Pos("spec").Errorf("%s", why))
	}
	for _, k := range s.Checkpoints {
		if why := byLine.fits(k.Name); why != "" {
			bad = append(bad, specs.Pos{File: s.File, Line: k.Line, Col: 1, Key: "name"}.Errorf("%s", why))
		}
	}
	if p := beside(c.Spec, s.ProgramFile); p != c.Program {
		bad = append(bad, s.Pos("program").Errorf("%s is not the program of the claim, %s", s.ProgramFile, c.Program))
	}
	if _, builtin := console.Builtin(s.ConsoleName); !builtin {
		bad = append(bad, s.Pos("console").Errorf("%s is no built-in profile; the spec of a claim names one of %s",
			s.ConsoleName, strings.Join(console.Names(), ", ")))
	}
	if n := len(s.Checkpoints); n > MaxOwnCheckpoints {
		bad = append(bad, s.Pos("checkpoints").Errorf("%d checkpoints; the spec of a claim has at most %d", n, MaxOwnCheckpoints))
	}
	return bad
}

// ownLimits are what an own spec must hold with the program in it.
func (o *opening) ownLimits(s *specs.Spec) (bad specs.ErrorList) {
	most := int64(DefaultReads)
	if o.house != nil {
		most = o.house.MaxReads
	}
	if n := s.Program.Reads() + int64(s.Tail); n > most {
		bad = append(bad, s.Pos("tail").Errorf("the program and its tail are %d reads long; the limit is %d", n, most))
	}
	per := int64(max(s.Console.ReadsPerFrame, 1))
	looks := int64(0)
	for _, c := range s.Checkpoints {
		if c.At.Range {
			looks += max(0, frameOf(s, c.At.To, per)-frameOf(s, c.At.From, per))
		}
		looks++
	}
	if looks > MaxOwnLooks {
		bad = append(bad, s.Pos("checkpoints").Errorf("judged on %d pictures together; the limit is %d", looks, MaxOwnLooks))
	}
	return bad
}

// frameOf is about the frame of a moment: no lag frames are counted.
func frameOf(s *specs.Spec, m specs.Moment, per int64) int64 {
	if m.Mark == "" {
		return m.Offset
	}
	r, err := m.Read(s.Program.Marks())
	if err != nil {
		return 0
	}
	return int64(r) / per
}
