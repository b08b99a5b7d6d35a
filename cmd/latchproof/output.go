package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"latchproof/reports"
)

// Names of the files of a report in its folder.
const (
	pageFile     = "report.html"
	jsonFile     = "report.json"
	markdownFile = "report.md"
	cardFile     = "card.png"
)

// markdownFlag gives a command the flag --markdown. With - the Markdown alone
// goes to standard output, and what is printed else to standard error.
func (a *app) markdownFlag(c *cobra.Command) {
	c.Flags().StringVar(&a.markdown, "markdown", "", "write the summary in Markdown to this file too; - for standard output")
	c.PreRunE = func(*cobra.Command, []string) error {
		if a.markdown != "-" {
			return nil
		}
		if a.json {
			return usageError{errors.New("--json and --markdown - both write to standard output")}
		}
		a.piped, a.out = a.out, a.err
		return nil
	}
}

// report writes the report files of a session into out, prints with --json the
// session, and gives the path of the page.
func (a *app) report(s reports.Session, out string) (string, error) {
	page, err := a.writeSession(s, out)
	if err == nil && a.json {
		err = reports.WriteJSON(a.out, s)
	}
	return page, err
}

// writeSession writes a session into out as a page, as JSON, as Markdown and as a
// card. Without out it writes only what --markdown asks for.
func (a *app) writeSession(s reports.Session, out string) (string, error) {
	markdown := func(w io.Writer) error { return reports.WriteMarkdown(w, s) }
	page := filepath.Join(out, pageFile)
	if out != "" {
		for _, f := range []struct {
			name  string
			write func(io.Writer) error
		}{
			{pageFile, func(w io.Writer) error { return reports.WriteHTML(w, s) }},
			{jsonFile, func(w io.Writer) error { return reports.WriteJSON(w, s) }},
			{markdownFile, markdown},
			{cardFile, func(w io.Writer) error { return reports.WriteCard(w, s) }},
		} {
			if err := writeFile(filepath.Join(out, f.name), f.write); err != nil {
				return "", err
			}
		}
	}
	switch a.markdown {
	case "":
		return page, nil
	case "-":
		return page, markdown(a.piped)
	}
	return page, writeFile(a.markdown, markdown)
}

// summary prints a session; what it writes is clean by itself.
func (a *app) summary(s reports.Session) error {
	return reports.WriteText(bare(a.out), s, a.textOptions())
}

// textOptions have text wrapped and in colour on a terminal, unless NO_COLOR is
// set to something (no-color.org) or the terminal is a dumb one.
func (a *app) textOptions() (o reports.TextOptions) {
	if f, ok := bare(a.out).(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil {
			o.Width = w
		}
		o.Colour = os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
	}
	return o
}

// writeFile writes a file whole or not at all.
func writeFile(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*")
	if err != nil {
		return fmt.Errorf("%s: %w", path, cause(err))
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
			err = fmt.Errorf("%s: %w", path, cause(err))
		}
	}()
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := write(f); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
