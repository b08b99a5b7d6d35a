package specs

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Limits of the files that a spec names, in bytes.
const (
	MaxProgramBytes = 4 << 20
	MaxProfileBytes = 1 << 20
)

// Load reads a spec file with its console profile and its program, resolves
// the marks, sets the default tail, and prepares the checks. Every problem of
// all the files is in the error, an ErrorList; the spec is nil then. All files
// except the spec itself are opened inside the spec's folder only.
func Load(path string, kinds Registry) (*Spec, error) { return LoadGiven(path, Given{}, kinds) }

// Given is what LoadGiven takes instead of what is on the disk.
type Given struct {
	// Files are the spec and the files that it names, by their names in the spec's
	// folder. When not nil, nothing is read from the disk.
	Files map[string][]byte
	// Program is the path of the program's file for messages, when it comes from
	// somewhere else than the spec's folder.
	Program string
	// MaxReads is the most reads the program may hold, when fewer than the spec
	// allows. 0: as the spec says.
	MaxReads int64
}

// LoadGiven is Load with files that were read before.
func LoadGiven(path string, g Given, kinds Registry) (*Spec, error) {
	var src []byte
	var err error
	if g.Files == nil {
		src, err = readSpec(path)
	} else {
		src, err = Folder{Files: g.Files}.Read(filepath.Base(path), MaxBytes)
	}
	if err != nil {
		return nil, ErrorList{Pos{File: path, Line: 1, Col: 1}.Errorf("%w", err)}
	}
	s, p := parse(path, src, kinds)
	if s == nil {
		return nil, p.err()
	}
	l := loader{spec: s, folder: Folder{Dir: s.Dir, Files: g.Files}, given: g, problems: p}
	if l.console() {
		l.program()
	}
	l.checks()
	if all := append(p.err(), l.others...); len(all) > 0 {
		return nil, all
	}
	return s, nil
}

// readSpec reads the spec file itself, which may lie anywhere.
func readSpec(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, plain(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("not a regular file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	return readAll(f, MaxBytes)
}

// loader adds what the other files hold to a spec.
type loader struct {
	spec     *Spec
	folder   Folder
	given    Given
	problems *problems // of the spec file
	others   ErrorList // of the other files
}

// console sets the profile.
func (l *loader) console() bool {
	s := l.spec
	if s.ConsoleName == "" {
		return false
	}
	if p, ok := console.Builtin(s.ConsoleName); ok {
		s.Console = p
		return true
	}
	at := s.at["console"]
	src, err := l.folder.Read(s.ConsoleName, MaxProfileBytes)
	if errors.Is(err, fs.ErrNotExist) {
		l.problems.add(at.Errorf("%s is neither a built-in profile (%s) nor a file: %w",
			show(s.ConsoleName), strings.Join(console.Names(), ", "), err))
		return false
	}
	if err != nil {
		l.problems.add(at.Errorf("%s: %w", s.ConsoleName, err))
		return false
	}
	file := l.folder.Path(s.ConsoleName)
	p, err := console.Parse(file, src)
	if err != nil {
		l.others = append(l.others, listOf(err, Pos{File: file, Line: 1, Col: 1})...)
		return false
	}
	s.Console = p
	return true
}

// program parses the program and checks what depends on it.
func (l *loader) program() {
	s := l.spec
	if s.ProgramFile == "" {
		return
	}
	src, err := l.folder.Read(s.ProgramFile, MaxProgramBytes)
	if err != nil {
		l.problems.add(s.at["program"].Errorf("%s: %w", s.ProgramFile, err))
		return
	}
	file := l.folder.Path(s.ProgramFile)
	if l.given.Program != "" {
		file = l.given.Program
	}
	limits := program.DefaultLimits
	limits.Reads = min(limits.Reads, s.MaxReads)
	if l.given.MaxReads > 0 {
		limits.Reads = min(limits.Reads, l.given.MaxReads)
	}
	p, err := program.Parse(file, src, s.Console, limits)
	if err != nil {
		l.others = append(l.others, listOf(err, Pos{File: file, Line: 1, Col: 1})...)
		return
	}
	s.Program, s.ProgramSource = p, src
	l.marks()
	l.tail()
}

// marks checks the moments against the program's marks.
func (l *loader) marks() {
	marks := l.spec.Program.Marks()
	names := make([]string, len(marks))
	for i, m := range marks {
		names[i] = m.Name
	}
	slices.Sort(names)
	for _, c := range l.spec.Checkpoints {
		if c.atPos == (Pos{}) {
			continue
		}
		from, ok := l.moment(c.At.From, c.atPos, marks, names)
		if c.At.To == c.At.From {
			continue
		}
		to, also := l.moment(c.At.To, c.atPos, marks, names)
		if ok && also && c.At.From.Mark != "" && c.At.To.Mark != "" && from > to {
			l.problems.add(c.atPos.Errorf("%s ends before it begins: reads %d to %d", c.At, from, to))
		}
	}
	for _, m := range l.spec.Timing.moments() {
		l.moment(m.Moment, m.pos, marks, names)
	}
}

// moment is the read of a moment with a mark; false when there is a problem.
func (l *loader) moment(m Moment, at Pos, marks []program.Mark, names []string) (program.Read, bool) {
	if m.Mark == "" {
		return 0, true
	}
	file := l.spec.ProgramFile
	if l.given.Program != "" {
		file = l.given.Program
	}
	r, err := m.Read(marks)
	if err != nil {
		if near := nearest(m.Mark, names); near != "" {
			l.problems.add(at.Errorf("%w in %s; did you mean %s?", err, file, near))
		} else {
			l.problems.add(at.Errorf("%w in %s; its marks: %s", err, file, list(names)))
		}
		return 0, false
	}
	if r < 0 {
		l.problems.add(at.Errorf("%s is %d reads before the first read", m, -r))
		return 0, false
	}
	return r, true
}

// tail sets the default tail, and refuses one with which a moment is surely
// never logged.
func (l *loader) tail() {
	s := l.spec
	if s.Tail < 0 {
		s.Tail = clampTail(s.CoverTail() + Margin)
		return
	}
	end := s.Program.Reads() + int64(s.Tail)
	marks := s.Program.Marks()
	all := s.Timing.moments()
	for _, c := range s.Checkpoints {
		all = append(all, placed{c.At.From, c.atPos})
		if c.At.To != c.At.From {
			all = append(all, placed{c.At.To, c.atPos})
		}
	}
	told := map[Pos]bool{}
	for _, m := range all {
		r, err := m.Read(marks)
		if err == nil && int64(r) >= end && !told[m.pos] {
			told[m.pos] = true
			l.problems.add(m.pos.Errorf("%s is read %d, which is never logged: the program has %d reads and the tail %d",
				m.Moment, r, s.Program.Reads(), s.Tail))
		}
	}
}

// checks binds and prepares the checks.
func (l *loader) checks() {
	env := Env{Folder: l.folder, Console: l.spec.Console, Points: l.spec.Points}
	for _, c := range l.spec.Checks() {
		if b, ok := c.(Binder); ok {
			b.Bind(env)
		}
		p, ok := c.(Preparer)
		if !ok {
			continue
		}
		if err := p.Prepare(); err != nil {
			for _, e := range listOf(err, Pos{File: l.spec.File, Line: 1, Col: 1}) {
				if e.File == l.spec.File {
					l.problems.add(e)
				} else {
					l.others = append(l.others, e)
				}
			}
		}
	}
}
