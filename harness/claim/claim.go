package claim

import (
	"regexp"

	"latchproof/specs"
)

// Version is the version of claim and house files that this package reads.
const Version = 1

// Claim is a claim file.
type Claim struct {
	File    string // as it was named
	What    string // what is claimed, in the submitter's words
	By      string // the submitter's chosen name
	Program string // file of the button program, relative to the claim's folder
	// Category is a category of the house, and Spec the submitter's own spec file,
	// relative to the claim's folder. One of them is empty.
	Category string
	Spec     string
	Frames   int64 // the claimed time between the spec's two events, frames
	Source   []byte

	at map[string]specs.Pos
}

// version is the one version that this package reads.
type version struct{}

func (version) Schema() map[string]any { return map[string]any{"const": Version} }

func (version) Read(v *specs.Value) (int64, bool) {
	n, ok := specs.Int{Min: 0, Max: 1 << 31}.Read(v)
	if ok && n != Version {
		v.Fail("version %d is not known; this program reads version %d", n, Version)
		return n, false
	}
	return n, ok
}

var (
	whatLine = line{200, "a claim of visible characters and single spaces"}
	byLine   = line{80, "a name of visible characters and single spaces"}

	categoryName = specs.Text{Min: 1, Max: 40, Pattern: regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_.-]*$`),
		Says: "a category of letters, digits, `_`, `.` and `-`"}
)

// claimFolder is what names of files in a claim are relative to.
const claimFolder = "the claim's"

var claimShape = specs.Mapping[Claim]{
	Start: func(specs.Pos) Claim { return Claim{at: map[string]specs.Pos{}} },
	Fields: []specs.Field[Claim]{
		specs.Key[Claim, int64]("version", version{}, "Version of this format: 1.", func(*Claim, int64, specs.Pos) {}).Need(),
		specs.Key[Claim, string]("claim", whatLine, "What is claimed, in one line of at most 200 columns.",
			func(c *Claim, x string, _ specs.Pos) { c.What = x }).Need(),
		specs.Key[Claim, string]("by", byLine, "The submitter's chosen name, at most 80 columns.",
			func(c *Claim, x string, _ specs.Pos) { c.By = x }).Need(),
		specs.Key[Claim, string]("program", filePath{specs.Path{Says: "a button program inside the claim's folder, such as fast.prog", Of: claimFolder}},
			"File of the button program, inside the claim's folder.",
			func(c *Claim, x string, at specs.Pos) { c.Program = x; c.at["program"] = at }).Need(),
		specs.Key[Claim, string]("category", categoryName, "The category of the house.",
			func(c *Claim, x string, at specs.Pos) { c.Category = x; c.at["category"] = at }),
		specs.Key[Claim, string]("spec", filePath{specs.Path{Says: "a spec file inside the claim's folder, such as mine.spec.yaml", Of: claimFolder}},
			"The submitter's own spec, inside the claim's folder, where the house allows it.",
			func(c *Claim, x string, at specs.Pos) { c.Spec = x; c.at["spec"] = at }),
		specs.Key[Claim, int64]("frames", specs.Int{Min: 0, Max: specs.MaxFrame}, "The claimed time from the spec's `timing.from` to its `timing.to`, frames.",
			func(c *Claim, x int64, at specs.Pos) { c.Frames = x; c.at["frames"] = at }).Need(),
	},
	Finish: func(c *Claim, v *specs.Value, have func(string) (*specs.Value, bool)) {
		_, category := have("category")
		own, spec := have("spec")
		switch {
		case category && spec:
			own.Fail("beside category; give one of them")
			c.Category, c.Spec = "", ""
		case !category && !spec:
			v.Fail("nothing to claim against; give category, or spec")
		}
	},
	Extra: map[string]any{"oneOf": []any{
		map[string]any{"required": []string{"category"}},
		map[string]any{"required": []string{"spec"}},
	}},
}

// Parse reads a claim file; no other file is opened. file is used in messages.
// The error is a specs.ErrorList of all problems; the claim is given as far as
// it was read.
func Parse(file string, src []byte) (Claim, error) {
	if len(src) > MaxClaimBytes {
		return Claim{}, tooBig(file, MaxClaimBytes)
	}
	c, err := specs.ReadDocument[Claim](file, src, claimShape)
	c.File, c.Source = file, src
	return c, err
}

// pos is where a key of the claim stands.
func (c *Claim) pos(key string) specs.Pos {
	if at, ok := c.at[key]; ok {
		return at
	}
	return specs.Pos{File: c.File, Line: 1, Col: 1, Key: key}
}
