package claim

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"

	"latchproof/specs"
)

// HouseFile is the name of the house file in the house's folder.
const HouseFile = "house.yaml"

// TiesEarlier is the rule of ties: the earlier certificate keeps the place.
const TiesEarlier = "earlier"

// House is a house file: the policy by which a maker certifies, and the
// categories in which claims can be made.
type House struct {
	File, Dir  string // as it was named, and its folder
	Name       string
	Repeats    int // on each bench
	Lockstep   int // of them, on each bench, that must be in lockstep with the first run on the first bench
	Benches    int // at least so many
	Ties       string
	OwnSpecs   bool // whether a claim may bring its own spec
	Categories []Category
	MaxReads   int64 // the most reads a claim's program may hold
	Source     []byte

	kinds    specs.Registry
	warnings []string
}

// Category is a category of a house.
type Category struct {
	Name string
	Spec string    // file, relative to the house's folder
	Says string    // the name of the spec
	Pos  specs.Pos // where it stands in the house file

	files []string // what the spec names, relative to its folder
	own   string   // its own program
}

// Limits of a house file.
const (
	MaxRepeats    = 1000
	MaxBenches    = 16
	MaxCategories = 100
	// DefaultReads is the most reads of a program when the house says nothing: an
	// hour at 60 reads a second.
	DefaultReads = 216_000
)

const houseFolder = "the house's"

var categoriesShape = specs.Table[string]{
	Of: specs.Mapping[string]{Fields: []specs.Field[string]{
		specs.Key[string, string]("spec", filePath{specs.Path{Says: "a spec file inside the house's folder, such as first-lamp.spec.yaml", Of: houseFolder}},
			"Spec file, inside the house's folder.", func(s *string, x string, _ specs.Pos) { *s = x }).Need(),
	}},
	Name: categoryName, Max: MaxCategories, Says: "a mapping of categories",
}

var limitsShape = specs.Mapping[int64]{Fields: []specs.Field[int64]{
	specs.Key[int64, int64]("reads", specs.Int{Min: 1, Max: specs.MaxReads}, "The most reads that a claim's program may hold.",
		func(s *int64, x int64, _ specs.Pos) { *s = x }).Need(),
}}

var houseShape = specs.Mapping[House]{
	Start: func(specs.Pos) House {
		return House{Repeats: 5, Benches: 1, Ties: TiesEarlier, MaxReads: DefaultReads}
	},
	Fields: []specs.Field[House]{
		specs.Key[House, int64]("version", version{}, "Version of this format: 1.", func(*House, int64, specs.Pos) {}).Need(),
		specs.Key[House, string]("house", byLine, "Name of the house, at most 80 columns.",
			func(h *House, x string, _ specs.Pos) { h.Name = x }).Need(),
		specs.Key[House, int64]("repeats", specs.Int{Min: 1, Max: MaxRepeats}, "How many times a claim is played on each bench.",
			func(h *House, x int64, _ specs.Pos) { h.Repeats = int(x) }).Else(5),
		specs.Key[House, int64]("lockstep", specs.Int{Min: 1, Max: MaxRepeats}, "How many of the repeats on each bench must be in lockstep with the first run on the first bench, itself counted. Default: all.",
			func(h *House, x int64, _ specs.Pos) { h.Lockstep = int(x) }),
		specs.Key[House, int64]("benches", specs.Int{Min: 1, Max: MaxBenches}, "On how many benches a claim is played at least.",
			func(h *House, x int64, _ specs.Pos) { h.Benches = int(x) }).Else(1),
		specs.Key[House, string]("ties", specs.Choice{TiesEarlier}, "Who keeps the place when two times are equal: the earlier certificate.",
			func(h *House, x string, _ specs.Pos) { h.Ties = x }).Else(TiesEarlier),
		specs.Key[House, bool]("own_specs", specs.Flag{}, "Whether a claim may bring its own spec.",
			func(h *House, x bool, _ specs.Pos) { h.OwnSpecs = x }).Else(false),
		specs.Key[House, []specs.Entry[string]]("categories", categoriesShape, "The categories in which claims can be made.",
			func(h *House, x []specs.Entry[string], _ specs.Pos) {
				for _, e := range x {
					h.Categories = append(h.Categories, Category{Name: e.Name, Spec: e.Of, Pos: e.Pos})
				}
			}).Need(),
		specs.Key[House, int64]("limits", limitsShape, "Limits of what is accepted.",
			func(h *House, x int64, _ specs.Pos) { h.MaxReads = x }),
	},
	Finish: func(h *House, v *specs.Value, have func(string) (*specs.Value, bool)) {
		switch given, ok := have("lockstep"); {
		case !ok:
			h.Lockstep = h.Repeats
		case h.Lockstep > h.Repeats:
			given.Fail("%d are more than the %d repeats", h.Lockstep, h.Repeats)
		}
		names := map[string]string{}
		for _, c := range h.Categories {
			if other, twice := names[strings.ToLower(c.Name)]; twice {
				v.FailAt(c.Pos, "differs from %s in upper and lower case alone", other)
			}
			names[strings.ToLower(c.Name)] = c.Name
		}
	},
}

// ParseHouse reads a house file; no other file is opened. file is used in
// messages. The error is a specs.ErrorList of all problems.
func ParseHouse(file string, src []byte) (*House, error) {
	if len(src) > MaxHouseBytes {
		return nil, tooBig(file, MaxHouseBytes)
	}
	h, err := specs.ReadDocument[House](file, src, houseShape)
	if err != nil {
		return nil, err
	}
	h.File, h.Dir, h.Source = file, filepath.Dir(file), src
	return &h, nil
}

// OpenHouse reads a house, by its folder or by its house file, with the specs of
// all categories. The error is a specs.ErrorList of all problems of all files.
func OpenHouse(file string, kinds specs.Registry) (*House, error) {
	if info, err := os.Stat(file); err == nil && info.IsDir() {
		file = filepath.Join(file, HouseFile)
	}
	src, err := specs.Folder{Dir: filepath.Dir(file)}.Read(filepath.Base(file), MaxHouseBytes)
	if err != nil {
		return nil, specs.ErrorList{fileStart(file).Errorf("%w", err)}
	}
	h, err := ParseHouse(file, src)
	if err != nil {
		return nil, err
	}
	h.kinds = kinds
	var bad specs.ErrorList
	for i := range h.Categories {
		bad = append(bad, h.load(&h.Categories[i])...)
	}
	if len(bad) > 0 {
		return nil, bad
	}
	return h, nil
}

// load reads the spec of a category.
func (h *House) load(c *Category) specs.ErrorList {
	folder := specs.Folder{Dir: h.Dir}
	if _, err := folder.Read(c.Spec, specs.MaxBytes); err != nil {
		return specs.ErrorList{c.Pos.Errorf("%s: %w", c.Spec, err)}
	}
	s, err := specs.Load(folder.Path(c.Spec), h.kinds)
	if err != nil {
		return listOf(err, fileStart(h.File))
	}
	c.Says, c.files, c.own = s.Name, s.Files(), s.ProgramFile
	h.warnings = append(h.warnings, marked(s)...)
	bad := timed(s)
	seen := map[string]string{}
	for _, name := range append([]string{path.Base(c.Spec)}, c.files...) {
		if other, twice := seen[strings.ToLower(name)]; twice {
			bad = append(bad, fileStart(s.File).Errorf("%s and %s differ in upper and lower case alone, which cannot be packed", other, name))
		}
		seen[strings.ToLower(name)] = name
		if why := badName(name); why != "" {
			bad = append(bad, fileStart(s.File).Errorf("%q cannot be packed: it %s", short(name), why))
		}
	}
	return bad
}

// timed says what keeps a claim from being judged by a spec: that it has no
// timing, or one that begins or ends at a mark, which the submitter sets.
func timed(s *specs.Spec) specs.ErrorList {
	if s.Timing == nil {
		return specs.ErrorList{s.Pos("timing").Errorf("missing; a claim is a time from one event to another")}
	}
	var bad specs.ErrorList
	for i, e := range []specs.Event{s.Timing.From, s.Timing.To} {
		if e.Key == "at" && e.At.Mark != "" {
			at := s.Pos("timing")
			at.Key = []string{"timing.from.at", "timing.to.at"}[i]
			bad = append(bad, at.Errorf("%s is a mark of the program, which the submitter sets; name a frame or a picture", e.At))
		}
	}
	return bad
}

// category is one of the house by its name.
func (h *House) category(name string) (*Category, bool) {
	for i := range h.Categories {
		if h.Categories[i].Name == name {
			return &h.Categories[i], true
		}
	}
	return nil, false
}

// files are the spec of a category and what it names but for its own program,
// by their names in the spec's folder.
func (h *House) files(c *Category) (map[string][]byte, error) {
	out := map[string][]byte{}
	folder := specs.Folder{Dir: h.Dir}
	total := 0
	for _, name := range append([]string{path.Base(c.Spec)}, c.files...) {
		if name == c.own {
			continue
		}
		src, err := folder.Read(beside(c.Spec, name), specs.MaxProgramBytes)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", folder.Path(beside(c.Spec, name)), err)
		}
		if total += len(src); total > maxSpecTotal {
			return nil, fmt.Errorf("%s: it and the files that it names have more than %d bytes", folder.Path(c.Spec), maxSpecTotal)
		}
		out[name] = src
	}
	return out, nil
}
