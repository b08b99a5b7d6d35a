package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

func (a *app) convertCommand() *cobra.Command {
	var profile string
	var force bool
	c := &cobra.Command{
		Use:   "convert PROGRAM OUT",
		Short: "Turn a program into CSV or back, or tidy its text",
		Long: strings.TrimSpace(`
Reads a button program (*.prog or *.csv) and writes it in the form that the
ending of OUT names. CSV has the columns from,to,buttons (RFC 4180), reads from 0
with both ends included; marks, comments and repeats are lost in it, the effect
is not: the program hash stays the same. From .prog to .prog it tidies the text
and keeps its structure, marks and comments.`),
		Example: "  latchproof convert walk.prog walk.csv",
		Args:    cobra.ExactArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := console.Load(profile, ".")
			if err != nil {
				return err
			}
			prog, err := loadProgram(args[0], p)
			if err != nil {
				return err
			}
			if _, err := os.Lstat(args[1]); !errors.Is(err, os.ErrNotExist) && !force {
				return usageError{fmt.Errorf("%s is there already; --force replaces it", args[1])}
			}
			if err := writeFile(args[1], func(w io.Writer) error { return writeProgram(w, prog, args[1]) }); err != nil {
				return err
			}
			if a.json {
				return a.printJSON(map[string]any{"file": args[1], "reads": prog.Reads(), "hash": prog.Hash()})
			}
			fmt.Fprintf(a.out, "%s: %d reads, program hash %s\n", args[1], prog.Reads(), prog.Hash())
			return nil
		},
	}
	c.Flags().StringVar(&profile, "console", "ntsc-8bit", "console profile: a built-in name or a file")
	c.Flags().BoolVar(&force, "force", false, "replace OUT when it is there")
	return c
}

func writeProgram(w io.Writer, p *program.Program, name string) error {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv":
		return p.ExportCSV(w)
	case ".prog":
		_, err := w.Write(p.Format())
		return err
	}
	return usageError{fmt.Errorf("%s: the ending must be .prog or .csv", name)}
}
