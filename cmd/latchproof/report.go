package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/reports"
	"latchproof/reports/index"
)

func (a *app) reportCommand() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "report DIR",
		Short: "Make a page over many sessions: what holds now, what got worse, trends",
		Long: strings.TrimSpace(`
Looks through a folder and all below it for the report.json files that play,
judge, compare and the other commands wrote, and makes one page of them, which
opens from disk with no network and needs no script:

  what holds now, by bench, firmware and board revision
  what got worse, since which session, and what changed there
  the lockstep rate of each spec over time, with its interval
  jitter, frame rate and service latency of the reads over time
  all sessions, with links to their pages

A report that cannot be read does not end the work: the page lists it with the
reason. Reports of older versions are read too. Symbolic links are not followed.
The page is DIR/index.html, or the file of --out; an older page of this command
is replaced, any other file is left alone. A spec got worse when it held
and does not now, or when it holds in fewer sessions than with the board before
(Fisher's exact test, 5 %).

Exit status: 0 the page was made, whatever the sessions say; 2 bad input, or no
report.json in the folder; 3 none of the reports could be read.`),
		Example: "  latchproof report runs\n  latchproof report --out /tmp/bench.html runs\n  latchproof report --json runs",
		Args:    cobra.ExactArgs(1),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := args[0]
			if out == "" {
				out = filepath.Join(dir, "index.html")
			}
			if err := ourIndex(out); err != nil {
				return err
			}
			to, err := wayTo(out, dir)
			if err != nil {
				return err
			}
			x, err := index.Read(cmd.Context(), dir, time.Now(), version)
			if err != nil {
				return err
			}
			if err := writeFile(out, func(w io.Writer) error { return index.WriteHTML(w, x, to) }); err != nil {
				return err
			}
			if a.json {
				err = index.WriteJSON(a.out, x)
			} else {
				a.tellIndex(x, out)
			}
			if err == nil && len(x.Sessions) == 0 {
				return verdict(codeNothing)
			}
			return err
		},
	}
	c.Flags().StringVar(&out, "out", "", "file of the page; default index.html in the folder")
	return c
}

// tellIndex prints the answer of an index.
func (a *app) tellIndex(x index.Index, out string) {
	fmt.Fprintf(a.out, "%s in %s\n  %s\n", reports.Plural(len(x.Sessions), "session", "sessions"), x.Folder, x.Sentence)
	const most = 20
	for i, c := range x.Worse {
		if i == most {
			fmt.Fprintf(a.out, "  and %d more, on the page\n", len(x.Worse)-most)
			break
		}
		fmt.Fprintf(a.out, "  worse: %s, not held since %s (%s)\n", reports.Cut(c.Spec, 60), x.Sessions[c.Since].Made.Format("2006-01-02 15:04"), reports.Cut(x.Sessions[c.Since].Path, 200))
		if len(c.Changed) > 0 {
			fmt.Fprintf(a.out, "    changed there: %s\n", strings.Join(c.Changed, ", "))
		}
	}
	for i, f := range x.Fell {
		if i == most {
			fmt.Fprintf(a.out, "  and %d more hold less often, on the page\n", len(x.Fell)-most)
			break
		}
		fmt.Fprintf(a.out, "  less often: %s held in %d of %d sessions since %s, in %d of %d before\n", reports.Cut(f.Spec, 60), f.Held, f.Of, x.Sessions[f.Since].Made.Format("2006-01-02 15:04"), f.HeldThen, f.OfThen)
		if len(f.Changed) > 0 {
			fmt.Fprintf(a.out, "    changed there: %s\n", strings.Join(f.Changed, ", "))
		}
	}
	for i, u := range x.Unread {
		if i == most {
			fmt.Fprintf(a.out, "  and %d more that could not be read, on the page\n", len(x.Unread)-most)
			break
		}
		fmt.Fprintf(a.out, "  not read: %s: %s\n", reports.Cut(u.Path, 200), reports.Cut(u.Why, 200))
	}
	for _, n := range x.Notes {
		fmt.Fprintf(a.out, "  note: %s\n", n)
	}
	fmt.Fprintf(a.out, "page: %s\n", out)
}

// ourIndex refuses to write over a file that this command did not make.
func ourIndex(path string) error {
	info, err := os.Lstat(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	refused := usageError{fmt.Errorf("%s is there already and is no page of this command; name another file with --out", path)}
	if !info.Mode().IsRegular() {
		return refused
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, 1024)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return err
	}
	if !bytes.Contains(head[:n], []byte(index.Mark)) {
		return refused
	}
	return nil
}

// wayTo is the way from the folder of a page to a folder, with slashes.
func wayTo(page, dir string) (string, error) {
	from, err := filepath.Abs(filepath.Dir(page))
	if err != nil {
		return "", err
	}
	to, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(from, to)
	return filepath.ToSlash(rel), err
}
