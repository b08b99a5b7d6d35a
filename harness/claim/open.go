package claim

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"latchproof/specs"
	"latchproof/specs/program"
)

// Ending is that of claim files.
const Ending = ".claim.yaml"

// Submission is a claim with everything that it needs, read once: what is judged,
// what is played and what is packed are the same bytes.
type Submission struct {
	Claim Claim
	House *House // nil: opened without one
	Dir   string // the claim's folder
	// Name is the name of the claim file without its ending.
	Name string
	// Files are the files of the submission, relative to Dir, sorted: the claim, the
	// program, and the claim's own spec with what it names. Contents are their bytes.
	Files    []string
	Contents map[string][]byte
	// Ignored are the files in the folder that are not part of the submission, sorted.
	Ignored []string

	// Spec is what the claim is judged against, with the claim's program in it; nil
	// when it names a category and there is no house. Its Dir is that of the house's
	// spec, where the program is another one: take files from SpecFiles.
	Spec    *specs.Spec
	Program *program.Program
	// SpecFile is the name of the spec in its folder. SpecFiles are the bytes of the
	// spec and of every file that it names (specs.Spec.Files), by their names in that
	// folder, with the claim's program under the name of the spec's. specs.Load reads
	// them back as the same spec.
	SpecFile  string
	SpecFiles map[string][]byte
	// Category is where the claim stands in a record book: a category of the house,
	// or that of an own spec (see OwnCategory).
	Category string
	Own      bool // the claim brought its own spec
}

// Open reads a submission, by its claim file or by its folder when that holds one
// claim file. Without a house only what the claim itself brings is looked at.
//
// The error is a specs.ErrorList of all problems. Everything that is too large
// or not what it should be is refused before anything is parsed.
func Open(file string, h *House, kinds specs.Registry) (*Submission, error) {
	dir, name := filepath.Split(file)
	if info, err := os.Stat(file); err == nil && info.IsDir() {
		dir, name = file, ""
	}
	if dir == "" {
		dir = "."
	}
	dir = filepath.Clean(dir)
	f, bad := openFolder(dir)
	if bad != nil {
		return nil, bad
	}
	defer f.root.Close()
	if name == "" {
		var err error
		if name, err = f.claim(); err != nil {
			return nil, specs.ErrorList{fileStart(dir).Errorf("%w", err)}
		}
	}
	o := opening{folder: f, house: h, kinds: kinds, s: &Submission{
		House: h, Dir: dir, Name: strings.TrimSuffix(name, Ending), Contents: map[string][]byte{},
	}}
	o.open(name)
	if len(o.bad) > 0 {
		return nil, o.bad
	}
	return o.s, nil
}

// claim is the one claim file at the top of the folder.
func (f *folder) claim() (string, error) {
	var found []string
	for name := range f.sizes {
		if strings.HasSuffix(name, Ending) && !strings.Contains(name, "/") {
			found = append(found, name)
		}
	}
	if len(found) != 1 {
		return "", fmt.Errorf("%d claim files (*%s) in the folder; name one", len(found), Ending)
	}
	return found[0], nil
}

// opening is a submission that is being read.
type opening struct {
	*folder
	house *House
	kinds specs.Registry
	s     *Submission
	bad   specs.ErrorList
}

func (o *opening) fail(err error, at specs.Pos) { o.bad = append(o.bad, listOf(err, at)...) }

// keep reads a file of the submission, once.
func (o *opening) keep(name string, most int) ([]byte, error) {
	if src, ok := o.s.Contents[name]; ok {
		return src, nil
	}
	src, err := o.read(name, most)
	if err == nil {
		o.s.Contents[name] = src
	}
	return src, err
}

func (o *opening) open(name string) {
	if !strings.HasSuffix(name, Ending) || name == Ending {
		o.bad = append(o.bad, o.pos(name).Errorf("a claim file is named *%s", Ending))
		return
	}
	src, err := o.keep(name, MaxClaimBytes)
	if err != nil {
		o.fail(err, o.pos(name))
		return
	}
	c, err := Parse(filepath.Join(o.dir, name), src)
	o.s.Claim = c
	o.fail(err, o.pos(name))
	text, ok := o.programText()
	switch {
	case !ok:
	case c.Spec != "":
		o.own()
	case c.Category != "" && o.house != nil:
		o.housed(text)
	}
	o.s.Files = slices.Sorted(func(yield func(string) bool) {
		for n := range o.s.Contents {
			if !yield(n) {
				return
			}
		}
	})
	for n := range o.sizes {
		if _, kept := o.s.Contents[n]; !kept {
			o.s.Ignored = append(o.s.Ignored, n)
		}
	}
	slices.Sort(o.s.Ignored)
}

// programText reads the claim's program and holds its text against the limits.
func (o *opening) programText() ([]byte, bool) {
	c := &o.s.Claim
	if c.Program == "" {
		return nil, false
	}
	src, err := o.keep(c.Program, MaxProgramBytes)
	if err != nil {
		o.bad = append(o.bad, c.pos("program").Errorf("%s: %w", c.Program, err))
		return nil, false
	}
	if n := longLine(src, MaxProgramLine); n > 0 {
		at := o.pos(c.Program)
		at.Line = n
		o.bad = append(o.bad, at.Errorf("a line of more than %d bytes", MaxProgramLine))
		return nil, false
	}
	if line, col, r := turned(src); line > 0 {
		at := o.pos(c.Program)
		at.Line, at.Col = line, col
		o.bad = append(o.bad, at.Errorf("character %U, which cannot be seen", r))
		return nil, false
	}
	return src, true
}

// housed judges the claim against the spec of its category.
func (o *opening) housed(text []byte) {
	c := &o.s.Claim
	cat, ok := o.house.category(c.Category)
	if !ok {
		var names []string
		for _, x := range o.house.Categories {
			names = append(names, x.Name)
		}
		o.bad = append(o.bad, c.pos("category").Errorf("%s is no category of %s; its categories: %s", c.Category, o.house.Name, strings.Join(names, ", ")))
		return
	}
	files, err := o.house.files(cat)
	if err != nil {
		o.fail(err, c.pos("category"))
		return
	}
	files[cat.own] = text
	o.load(specs.Folder{Dir: o.house.Dir}.Path(cat.Spec), files)
	o.s.Category = cat.Name
}

// own judges the claim against its own spec.
func (o *opening) own() {
	c := &o.s.Claim
	if o.house != nil && !o.house.OwnSpecs {
		o.bad = append(o.bad, c.pos("spec").Errorf("%s takes no specs of others; name one of its categories", o.house.Name))
		return
	}
	src, err := o.keep(c.Spec, MaxSpecBytes)
	if err != nil {
		o.bad = append(o.bad, c.pos("spec").Errorf("%s: %w", c.Spec, err))
		return
	}
	file := filepath.Join(o.dir, filepath.FromSlash(c.Spec))
	s, err := specs.Parse(shown(file), src, o.kinds)
	if err != nil {
		o.fail(err, o.pos(c.Spec))
		return
	}
	if bad := o.ownRules(s); len(bad) > 0 {
		o.bad = append(o.bad, bad...)
		return
	}
	files := map[string][]byte{path.Base(c.Spec): src}
	told := len(o.bad)
	for _, name := range s.Files() {
		one, err := o.keep(beside(c.Spec, name), MaxPictureBytes)
		if err != nil {
			// A file that is missing is told by specs, where the spec names it.
			if !errors.Is(err, os.ErrNotExist) {
				o.fail(err, o.pos(beside(c.Spec, name)))
			}
			continue
		}
		files[name] = one
	}
	if len(o.bad) > told {
		return
	}
	o.load(file, files)
	if o.s.Spec == nil {
		return
	}
	o.bad = append(o.bad, o.ownLimits(o.s.Spec)...)
	o.s.Own = true
	o.s.Category = OwnCategory(o.s.Spec, o.s.SpecFiles)
}

// load loads the spec from bytes.
func (o *opening) load(file string, files map[string][]byte) {
	given := specs.Given{Files: files, Program: shown(filepath.Join(o.dir, filepath.FromSlash(o.s.Claim.Program)))}
	if o.house != nil {
		given.MaxReads = o.house.MaxReads
	} else {
		given.MaxReads = DefaultReads
	}
	s, err := specs.LoadGiven(shown(file), given, o.kinds)
	if err != nil {
		o.fail(err, fileStart(file))
		return
	}
	o.bad = append(o.bad, timed(s)...)
	for _, m := range s.Program.Marks() {
		if why := byLine.fits(m.Name); why != "" {
			at := o.pos(o.s.Claim.Program)
			at.Line = m.Line
			o.bad = append(o.bad, at.Errorf("mark: %s", why))
		}
	}
	o.s.Spec, o.s.Program, o.s.SpecFile, o.s.SpecFiles = s, s.Program, filepath.Base(file), files
}

// OwnCategory is the category of an own spec: "own:", the spec's name, "@", and the
// first 16 hexadecimal digits of the SHA-256 over the spec and the files that it
// names but for the program. So two claims are in one category when they are
// judged by the same spec to the byte, and never because of a name alone.
func OwnCategory(s *specs.Spec, files map[string][]byte) string {
	h := sha256.New()
	for _, name := range append([]string{filepath.Base(s.File)}, s.Files()...) {
		if name != s.ProgramFile {
			fmt.Fprintf(h, "%s\n%d\n", name, len(files[name]))
			h.Write(files[name])
		}
	}
	return "own:" + s.Name + "@" + hex.EncodeToString(h.Sum(nil))[:16]
}
