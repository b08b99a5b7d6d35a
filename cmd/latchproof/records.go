package main

import (
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/mod/sumdb/tlog"

	"latchproof/harness/attest"
	"latchproof/harness/recordbook"
	"latchproof/reports"
)

func (a *app) recordsCommand() *cobra.Command {
	var book string
	var all bool
	c := &cobra.Command{
		Use:   "records",
		Short: "List the best of a record book, and prove what is in it",
		Long: strings.TrimSpace(`
Lists the best certificate of each category in a record book: how many frames,
the same in seconds, by whom, when by the clock of the house, and its index in
the book. The fewest frames are the best; of equal ones the earlier entry keeps
the place, and the later ones stand below it as ties. --all lists every entry in
the order of the book.

The book is read and checked whole before anything is said of it. Names in it
were chosen by those who made the claims.

Exit status 3 says that the book is damaged, so that nothing can be said.`),
		Example: "  latchproof records --book house/book\n  latchproof records check --head kept.head\n  latchproof records prove 12 -o entry12.json\n  latchproof records verify entry12.json --key house.pub",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			b, err := a.openBook(book)
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(listingOf(b, all))
			}
			return a.listRecords(b, all)
		},
	}
	c.PersistentFlags().StringVar(&book, "book", "book", "folder of the record book")
	c.Flags().BoolVar(&all, "all", false, "list every entry, not only the best")
	c.AddCommand(a.recordsAppendCommand(&book), a.recordsCheckCommand(&book), a.recordsProveCommand(&book), a.recordsGrowthCommand(&book), a.recordsVerifyCommand())
	return c
}

// openBook opens a book to read and tells what an interrupted append left.
func (a *app) openBook(dir string) (*recordbook.Book, error) {
	b, err := recordbook.Open(dir)
	if err != nil {
		return nil, err
	}
	a.bookNotes(b)
	return b, nil
}

// bookNotes tells on standard error what a book's opening found.
func (a *app) bookNotes(b *recordbook.Book) {
	for _, n := range b.Notes() {
		fmt.Fprintf(a.err, "latchproof: %s: %s\n", b.Dir(), n)
	}
}

// recordJSON is an entry as --json lists it.
type recordJSON struct {
	Index     int64   `json:"index"`
	Leaf      string  `json:"leaf"`
	Category  string  `json:"category"`
	Frames    int64   `json:"frames"`
	Seconds   float64 `json:"seconds"`
	By        string  `json:"by"`
	Claim     string  `json:"claim"`
	Certified string  `json:"certified"`
	// Ties are the indexes of later entries with as many frames; of a best alone.
	Ties []int64 `json:"ties,omitempty"`
}

// listingJSON is what --json prints.
type listingJSON struct {
	House  string `json:"house"`
	Origin string `json:"origin"`
	KeyID  string `json:"keyid"`
	Size   int64  `json:"size"`
	// Root is the root hash, lower-case hex; Head the file of the signed tree head.
	Root    string       `json:"root"`
	Head    string       `json:"head"`
	Notes   []string     `json:"notes"`
	Best    []recordJSON `json:"best"`
	Entries []recordJSON `json:"entries,omitempty"` // with --all
}

func listingOf(b *recordbook.Book, all bool) listingJSON {
	h := b.Head()
	l := listingJSON{
		House: b.House(), Origin: h.Origin, KeyID: attest.KeyID(b.Key()), Size: h.Size, Root: hexHash(h.Root),
		Head: headFile(b), Notes: append([]string{}, b.Notes()...), Best: []recordJSON{},
	}
	for _, p := range recordbook.Places(b.Entries()) {
		r := recordOf(p.Best)
		for _, t := range p.Ties {
			r.Ties = append(r.Ties, t.Index)
		}
		l.Best = append(l.Best, r)
	}
	if all {
		for _, e := range b.Entries() {
			l.Entries = append(l.Entries, recordOf(e))
		}
	}
	return l
}

func recordOf(e recordbook.Entry) recordJSON {
	s := e.States
	return recordJSON{
		Index: e.Index, Leaf: hexHash(e.Leaf), Category: s.Claim.Category, Frames: s.Measured.Frames, Seconds: s.Measured.Seconds,
		By: s.Claim.By, Claim: s.Claim.Name, Certified: s.Certified,
	}
}

func hexHash(h tlog.Hash) string { return hex.EncodeToString(h[:]) }

// headFile is the file of a book's newest head.
func headFile(b *recordbook.Book) string {
	return filepath.Join(b.Dir(), recordbook.HeadFile(b.Len()))
}

// listRecords prints the table.
func (a *app) listRecords(b *recordbook.Book, all bool) error {
	house := reports.Plain(b.House())
	if b.Len() == 0 {
		fmt.Fprintf(a.out, "%s has no record yet\n", house)
		return nil
	}
	places := recordbook.Places(b.Entries())
	categories := "1 category"
	if len(places) > 1 {
		categories = fmt.Sprintf("%d categories", len(places))
	}
	fmt.Fprintf(a.out, "%s: %s in %s\n", house, plural(int(b.Len()), "certificate"), categories)
	notes := map[int64]string{}
	var list []recordbook.Entry
	for _, p := range places {
		notes[p.Best.Index] = "best"
		list = append(list, p.Best)
		for _, t := range p.Ties {
			notes[t.Index] = fmt.Sprintf("ties with %d, which was earlier", p.Best.Index)
			list = append(list, t)
		}
	}
	if all {
		list = b.Entries()
	}
	var rows [][]string
	for _, e := range list {
		r := recordOf(e)
		rows = append(rows, []string{
			r.Category, strconv.FormatInt(r.Frames, 10), strconv.FormatFloat(r.Seconds, 'f', 3, 64), r.By, r.Certified,
			strconv.FormatInt(r.Index, 10), notes[r.Index],
		})
	}
	if err := reports.WriteTable(a.out, []string{"category", ">frames", ">seconds", "by", "when", ">index", ""}, rows, a.textOptions()); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "tree head: %s\n", headFile(b))
	return nil
}

func (a *app) recordsCheckCommand(book *string) *cobra.Command {
	var heads []string
	c := &cobra.Command{
		Use:   "check",
		Short: "Read a whole record book and say where it is damaged, or whether it was rewritten",
		Long: strings.TrimSpace(`
Reads every file of a record book: each certificate must be signed by the house,
each hash must follow from the entries, each tree head must be signed and be that
of its entries, and nothing may be missing, twice or foreign. Damage is told with
its place.

A house that rewrites its whole book with its own key leaves no damage. That is
found by a tree head that somebody kept (any file of BOOK/heads): with --head,
which may be given again, the book must have grown from it.

Exit status 1 says that the book is damaged, or has not grown from a head.`),
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error { return a.checkBook(*book, heads) },
	}
	c.Flags().StringArrayVar(&heads, "head", nil, "a tree head that was kept; may be given again")
	return c
}

// bookCheck is what records check --json prints.
type bookCheck struct {
	Sound    bool                 `json:"sound"` // no damage, and grown from every head
	Size     int64                `json:"size"`
	Findings []recordbook.Finding `json:"findings"` // damage
	More     int                  `json:"more"`     // how many findings are not listed
	Heads    []headCheck          `json:"heads"`    // that were kept
	Notes    []string             `json:"notes"`
}

type headCheck struct {
	File  string `json:"file"`
	Grown bool   `json:"grown"`
	Why   string `json:"why,omitempty"`
}

func (a *app) checkBook(dir string, heads []string) error {
	r := bookCheck{Sound: true, Findings: []recordbook.Finding{}, Heads: []headCheck{}, Notes: []string{}}
	kept := make([][]byte, len(heads))
	for i, file := range heads {
		var err error
		if kept[i], err = readSmall(file); err != nil {
			return err
		}
	}
	b, err := a.openBook(dir)
	var damage *recordbook.DamagedError
	switch {
	case errors.As(err, &damage):
		r.Sound, r.Findings, r.More = false, damage.Findings, damage.More
	case err != nil:
		return err
	default:
		r.Size, r.Notes = b.Len(), append(r.Notes, b.Notes()...)
		for i, file := range heads {
			h := headCheck{File: file, Grown: true}
			if _, err := b.ProveGrowth(kept[i]); err != nil {
				r.Sound, h.Grown, h.Why = false, false, err.Error()
			}
			r.Heads = append(r.Heads, h)
		}
	}
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printCheck(dir, r)
	}
	if !r.Sound {
		return verdict(codeNot)
	}
	return nil
}

func (a *app) printCheck(dir string, r bookCheck) {
	for _, f := range r.Findings {
		fmt.Fprintf(a.out, "%s: damaged: %s\n", dir, f)
	}
	if r.More > 0 {
		fmt.Fprintf(a.out, "%s: damaged: %d more places\n", dir, r.More)
	}
	if len(r.Findings) > 0 {
		return
	}
	fmt.Fprintf(a.out, "%s: sound: %s, each with its tree head\n", dir, plural(int(r.Size), "certificate"))
	for _, h := range r.Heads {
		if h.Grown {
			fmt.Fprintf(a.out, "%s: the book has grown from it; nothing before was rewritten\n", h.File)
		} else {
			fmt.Fprintf(a.out, "%s: %s\n", h.File, h.Why)
		}
	}
}
