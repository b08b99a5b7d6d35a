package verify

import (
	"bytes"
	"path"
	"slices"
	"strings"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/harness/record"
	"latchproof/specs"
	"latchproof/specs/program"
)

// claimed is what was submitted, and what it was judged by.
type claimed struct {
	*claim.Submission
	specSource []byte
	program    []byte
}

// Limits of the files of a bundle that are read whole, bytes.
const (
	mostSpecFile = 64 << 20
	mostSpec     = 128 << 20 // the spec and what it names
	mostDecision = 64 << 20
	mostBench    = 1 << 20
)

// read gives the files of a folder of the bundle, at most so many bytes together.
func (v *verifier) read(folder string, one, all int64) (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, name := range v.below(folder) {
		src, err := v.b.ReadFile(folder+"/"+name, one)
		if err != nil {
			return nil, err
		}
		if all -= int64(len(src)); all < 0 {
			return nil, broken("%s/ has more bytes than it may", folder)
		}
		out[name] = src
	}
	return out, nil
}

// submission reads the claim, the policy and the spec, and finds the runs.
func (v *verifier) submission() error {
	if !v.b.Has(houseFile) || !v.b.Has(decisionFile) {
		return broken("%s or %s is missing", houseFile, decisionFile)
	}
	src, err := v.b.ReadFile(houseFile, claim.MaxHouseBytes)
	if err != nil {
		return err
	}
	house, err := claim.ParseHouse(houseFile, src)
	if err != nil {
		return err
	}
	contents, err := v.read("claim", claim.MaxFileBytes, claim.MaxTotalBytes)
	if err != nil {
		return err
	}
	var files []string
	for name := range contents {
		files = append(files, name)
	}
	slices.Sort(files)
	main := slices.IndexFunc(files, func(n string) bool { return strings.HasSuffix(n, claim.Ending) && !strings.Contains(n, "/") })
	if main < 0 {
		return broken("claim/ holds no claim file")
	}
	c, err := claim.Parse("claim/"+files[main], contents[files[main]])
	if err != nil {
		return err
	}
	out := &claimed{Submission: &claim.Submission{
		Claim: c, House: house, Dir: "claim", Name: strings.TrimSuffix(files[main], claim.Ending), Files: files, Contents: contents,
	}}
	if err := v.spec(out); err != nil {
		return err
	}
	v.claim = out
	return v.findRuns()
}

// spec reads the spec that it was judged by.
func (v *verifier) spec(c *claimed) error {
	var err error
	if c.SpecFiles, err = v.read("spec", mostSpecFile, mostSpec); err != nil {
		return err
	}
	text, ok := c.Contents[c.Claim.Program]
	if !ok {
		return broken("claim/%s, its program, is missing", c.Claim.Program)
	}
	used := map[string]bool{c.Name + claim.Ending: true, c.Claim.Program: true}
	c.Category = c.Claim.Category
	if c.Own = c.Claim.Spec != ""; c.Own {
		if !c.House.OwnSpecs {
			return broken("it brings its own spec, and %s takes none", c.House.Name)
		}
		c.SpecFile = path.Base(c.Claim.Spec)
	} else {
		i := slices.IndexFunc(c.House.Categories, func(k claim.Category) bool { return k.Name == c.Claim.Category })
		if i < 0 {
			return broken("%s is no category of the house", c.Claim.Category)
		}
		c.SpecFile = path.Base(c.House.Categories[i].Spec)
	}
	if c.specSource, ok = c.SpecFiles[c.SpecFile]; !ok {
		return broken("spec/%s is missing", c.SpecFile)
	}
	s, err := specs.LoadGiven("spec/"+c.SpecFile, specs.Given{Files: c.SpecFiles, MaxReads: c.House.MaxReads}, checks.All)
	if err != nil {
		return err
	}
	c.Spec, c.Program, c.program = s, s.Program, text
	want := append([]string{c.SpecFile}, s.Files()...)
	for _, name := range want {
		if _, ok := c.SpecFiles[name]; !ok {
			return broken("spec/%s is missing", name)
		}
	}
	for name := range c.SpecFiles {
		if !slices.Contains(want, name) {
			return broken("spec/%s is nothing that the spec names", name)
		}
	}
	if !bytes.Equal(c.SpecFiles[s.ProgramFile], text) {
		return broken("spec/%s is not the claim's program", s.ProgramFile)
	}
	if c.Own {
		c.Category = claim.OwnCategory(s, c.SpecFiles)
		for _, name := range want {
			at := path.Join(path.Dir(c.Claim.Spec), name)
			if used[at] = true; !bytes.Equal(c.Contents[at], c.SpecFiles[name]) {
				return broken("spec/%s is not claim/%s", name, at)
			}
		}
	}
	for name := range c.Contents {
		if !used[name] {
			return broken("claim/%s is nothing that the claim names", name)
		}
	}
	if s.Timing == nil {
		return broken("the spec has no timing")
	}
	return nil
}

// findRuns lists the runs, each with its bench.
func (v *verifier) findRuns() error {
	all := folders(v.b.Names(), runFile)
	if len(all) == 0 {
		return broken("there are no runs")
	}
	if most := claim.MaxRepeats * claim.MaxBenches; len(all) > most {
		return broken("%d runs, at most %d", len(all), most)
	}
	benches := map[string]bool{}
	copies := map[string]string{} // run by the hash of its video, and of its time exchanges
	for _, dir := range all {
		r := &run{name: dir, bench: path.Base(path.Dir(dir))}
		if !v.b.Has("benches/" + r.bench + ".json") {
			return broken("benches/%s.json is missing", r.bench)
		}
		if v.sums[dir+"/"+record.CaptureFile] == "" {
			return broken("%s has no video in the certificate", dir)
		}
		for _, file := range []string{record.CaptureFile, record.SyncsFile} {
			sum := v.sums[dir+"/"+file]
			if other := copies[sum]; sum != "" && other != "" {
				return broken("%s has the same %s as %s: no two runs have", dir, file, other)
			}
			copies[sum] = dir
		}
		benches[r.bench] = true
		v.runs = append(v.runs, r)
	}
	for _, name := range v.below("benches") {
		if !benches[strings.TrimSuffix(name, ".json")] {
			return broken("benches/%s is of no run", name)
		}
	}
	for _, dir := range folders(v.b.Names(), pictureFile) {
		if !slices.Contains(all, "runs/"+strings.TrimPrefix(dir, "pictures/")) {
			return broken("%s/ is of no run", dir)
		}
	}
	for _, s := range v.cert.Subjects {
		if isVideo(s.Name) && !slices.Contains(all, path.Dir(s.Name)) {
			return broken("%s is of no run", s.Name)
		}
	}
	return nil
}

// programOf reads the copy of the program that a run has.
func (c *claimed) programOf(file string, src []byte) (*program.Program, error) {
	return program.Parse(file, src, c.Spec.Console, program.DefaultLimits)
}
