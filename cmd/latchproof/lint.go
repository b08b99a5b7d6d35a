package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/specs"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// linted is what lint says of one file.
type linted struct {
	File        string   `json:"file"`
	Kind        string   `json:"kind"` // spec, program, claim or house
	OK          bool     `json:"ok"`
	Problems    []string `json:"problems"`
	Warnings    []string `json:"warnings"`
	Reads       int64    `json:"reads,omitempty"`
	Hash        string   `json:"hash,omitempty"`
	Marks       []mark   `json:"marks,omitempty"`
	Checkpoints int      `json:"checkpoints,omitempty"`

	Claim *lintedClaim `json:"claim,omitempty"`
	House *lintedHouse `json:"house,omitempty"`
}

type mark struct {
	Name string `json:"name"`
	Read int64  `json:"read"`
	Line int    `json:"line"`
}

func (a *app) lintCommand() *cobra.Command {
	var profile, house string
	var seen lintPictures
	c := &cobra.Command{
		Use:   "lint FILE...",
		Short: "Check specs, programs and claims with no bench",
		Long: strings.TrimSpace(`
Checks spec files (*.yaml, *.yml) with everything they name, and button programs
(*.prog, or *.csv with the columns from,to,buttons). Says every problem at once
as file:line:col: problem. For a program it prints the length in reads, the
marks, and the program hash: two texts with the same effect have the same hash.

Checks claims (*.claim.yaml) with everything that they bring, and with --house
against the spec of their category with the claim's program in it; and houses
(house.yaml) with the specs of all categories. A claim is a stranger's: nothing of
it is parsed before its folder, its names and its sizes are within limits, and
nothing outside its folder is read.

Warns on stderr of templates and glyphs that could match the wrong thing: so
plain that noise hides or imitates them, or so like another place of themselves,
another template, or (with --picture or --run) another place of a picture. Told
are the score of the second best match and the margin, which is the threshold
less that score. Warnings leave the exit code at 0.`),
		Example: "  latchproof lint first-lamp.spec.yaml\n  latchproof lint first-lamp.spec.yaml --run runs/first-lamp/run-001\n  latchproof lint --console pal-8bit walk.prog\n  latchproof lint inbox/fast.claim.yaml --house linden-street",
		Args:    cobra.MinimumNArgs(1),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"yaml", "yml", "prog", "csv"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := console.Load(profile, ".")
			if err != nil {
				return err
			}
			if err := seen.load(); err != nil {
				return err
			}
			h, err := openHouse(house)
			if err != nil {
				return err
			}
			bad := false
			all := make([]linted, 0, len(args))
			for _, file := range args {
				l, err := lint(cmd.Context(), file, p, h, &seen)
				if err != nil {
					return err
				}
				bad = bad || !l.OK
				all = append(all, l)
				if !a.json {
					a.printLint(l)
				}
			}
			if a.json {
				if err := a.printJSON(map[string]any{"files": all}); err != nil {
					return err
				}
			}
			if bad {
				return verdict(codeUsage)
			}
			return nil
		},
	}
	c.Flags().StringVar(&profile, "console", "ntsc-8bit", "console profile for program files: a built-in name or a file")
	c.Flags().StringVar(&house, "house", "", "folder of the house against which claims are judged")
	c.Flags().StringArrayVar(&seen.files, "picture", nil, "PNG of the raster's size in which templates are looked for")
	c.Flags().StringArrayVar(&seen.runs, "run", nil, "folder of a run: templates are looked for in the pictures that its checkpoints are judged by")
	return c
}

func lint(ctx context.Context, file string, p console.Profile, h *claim.House, seen *lintPictures) (linted, error) {
	switch {
	case strings.HasSuffix(file, claim.Ending):
		return lintClaim(file, p, h), nil
	case filepath.Base(file) == claim.HouseFile:
		return lintHouse(file), nil
	}
	l := linted{File: file, Kind: "program", Problems: []string{}, Warnings: []string{}}
	var prog *program.Program
	var err error
	switch strings.ToLower(filepath.Ext(file)) {
	case ".yaml", ".yml":
		l.Kind = "spec"
		var s *specs.Spec
		if s, err = specs.Load(file, checks.All); err == nil {
			prog = s.Program
			l.Checkpoints = len(s.Checkpoints)
			pictures, err := seen.of(ctx, s)
			if err != nil {
				return l, err
			}
			for _, w := range checks.Warnings(s, pictures) {
				l.Warnings = append(l.Warnings, w.Error())
			}
		}
	default:
		prog, err = loadProgram(file, p)
	}
	if err != nil {
		l.Problems = strings.Split(err.Error(), "\n")
		return l, nil
	}
	l.OK = true
	l.program(prog)
	return l, nil
}

func (l *linted) program(p *program.Program) {
	l.Reads, l.Hash = p.Reads(), p.Hash()
	for _, m := range p.Marks() {
		l.Marks = append(l.Marks, mark{m.Name, int64(m.Read), m.Line})
	}
}

// loadProgram reads a program file by its ending: .csv, or the notation.
func loadProgram(file string, p console.Profile) (*program.Program, error) {
	src, err := readSmall(file)
	if err != nil {
		return nil, err
	}
	return parseProgram(file, src, p)
}

// parseProgram reads the text of a program by the ending of its file's name.
func parseProgram(file string, src []byte, p console.Profile) (*program.Program, error) {
	if strings.EqualFold(filepath.Ext(file), ".csv") {
		return program.ImportCSV(file, src, p, program.DefaultLimits)
	}
	return program.Parse(file, src, p, program.DefaultLimits)
}

// maxText is the size of a text file that is read whole, bytes: a CSV of the
// longest program allowed has less.
const maxText = 64 << 20

func readSmall(file string) ([]byte, error) {
	st, err := os.Stat(file)
	if err != nil {
		return nil, plain(err)
	}
	if st.IsDir() {
		return nil, fmt.Errorf("%s: it is a folder", file)
	}
	if st.Size() > maxText {
		return nil, fmt.Errorf("%s: %d bytes is too large for a text of this kind; at most %d", file, st.Size(), maxText)
	}
	src, err := os.ReadFile(file)
	return src, plain(err)
}

// plain is an error of package os without the name of the system call.
func plain(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return fmt.Errorf("%s: %w", pe.Path, pe.Err)
	}
	return err
}

// cause is an error of package os without the system call and the path.
func cause(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func (a *app) printLint(l linted) {
	if !l.OK {
		for _, p := range l.Problems {
			fmt.Fprintln(a.err, p)
		}
		return
	}
	fmt.Fprintf(a.out, "%s: sound\n", l.File)
	l.Claim.print(a.out)
	l.House.print(a.out)
	if l.Kind == "spec" {
		fmt.Fprintf(a.out, "  checkpoints  %d\n", l.Checkpoints)
	}
	if l.Kind != "house" {
		fmt.Fprintf(a.out, "  reads        %d\n  program hash %s\n", l.Reads, l.Hash)
	}
	for _, m := range l.Marks {
		fmt.Fprintf(a.out, "  mark         %s at read %d (line %d)\n", m.Name, m.Read, m.Line)
	}
	for _, w := range l.Warnings {
		fmt.Fprintf(a.err, "warning: %s\n", w)
	}
}

func (a *app) printJSON(v any) error {
	e := json.NewEncoder(a.out)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
