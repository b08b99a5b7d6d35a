package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/harness/decision"
	"latchproof/harness/recordbook"
	"latchproof/reports"
	"latchproof/specs"
)

// certifying is what a certification is made with.
type certifying struct {
	claim, house string
	benches      []string
	keyFile      string
	secret       passphrase
	book, out    string
	timeout      time.Duration
}

func (a *app) certifyCommand() *cobra.Command {
	var o certifying
	c := &cobra.Command{
		Use:   "certify CLAIM",
		Short: "Play a submitted claim, decide about it, and sign a certificate with its evidence",
		Long: strings.TrimSpace(`
Plays the program of a claim (a *.claim.yaml file, or the folder with one) as often
as the policy of the house asks, on each bench, judges every checkpoint, compares
all runs with the first one, measures the time between the two events of the
spec's timing, and decides:

  certified  every checkpoint passes in every run, as many runs as asked for are in
             lockstep, and the time is one number, not above the claimed one
  refused    with every reason, otherwise: something surely does not hold, or it
             cannot be told (unseen, not calibrated, damaged, disconnected)

The output folder holds, refused or not:

  runs/BENCH/run-001 ...  the sealed runs with their videos
  report.html, .json, .md and card.png, as play makes them

and, when it is certified, NAME.bundle: one archive with the claim, the house's
policy, the spec, read logs, traces, verdicts, key pictures and the certificate, an
in-toto statement in a DSSE envelope signed with the key of --key. The videos stay
beside it. The bundle is written whole or not at all. With --book the certificate is
then entered into the record book in that folder, which is made when there is none,
and the time is compared with the best of the category before.

Benches are played one after another in the order given. Playing ends early when
something surely does not hold. The same claim is judged anew by others with
latchproof verify.`),
		Example: "  latchproof certify fast.claim.yaml --house house --bench a.yaml --bench b.yaml --key house.key --book book",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.claim = args[0]
			return a.certify(cmd.Context(), o)
		},
	}
	c.Flags().StringVar(&o.house, "house", "", "folder of the house, or its house.yaml")
	c.Flags().StringArrayVar(&o.benches, "bench", nil, "bench file; once for each bench; the built-in simulated bench when not given")
	c.Flags().StringVar(&o.keyFile, "key", "", "private key of the house (latchproof key new)")
	c.Flags().StringVar(&o.book, "book", "", "folder of the record book")
	c.Flags().StringVar(&o.out, "out", "", "output folder; default runs/ and the time")
	c.Flags().DurationVar(&o.timeout, "timeout", harness.DefaultTimeout, "time allowed for one repeat of a spec that names none itself")
	o.secret.flags(c)
	a.markdownFlag(c)
	for _, need := range []string{"house", "key"} {
		_ = c.MarkFlagRequired(need)
	}
	return c
}

func (a *app) certify(ctx context.Context, o certifying) error {
	h, err := claim.OpenHouse(o.house, checks.All)
	if err != nil {
		return fmt.Errorf("the house is not sound:\n%w", safe(err))
	}
	s, err := claim.Open(o.claim, h, checks.All)
	if err != nil {
		return fmt.Errorf("the claim is not sound:\n%w", safe(err))
	}
	key, err := attest.LoadKey(o.keyFile, o.secret.of(ctx, o.keyFile))
	if err != nil {
		return fmt.Errorf("key: %w", plain(err))
	}
	if err := bookFits(o.book, h, key); err != nil {
		return err
	}
	var benches []harness.Bench
	if len(o.benches) == 0 {
		o.benches = []string{""}
	}
	for _, file := range o.benches {
		b, err := a.openBench(file)
		if err != nil {
			return err
		}
		benches = append(benches, b)
	}
	if o.out, err = sessionFolder(o.out); err != nil {
		return err
	}
	c, err := harness.NewCertification(s, benches, o.out, harness.Player{Version: version, Progress: a.progress()})
	if err != nil {
		return usageError{err}
	}
	defer c.Release()
	for _, path := range []string{filepath.Join(o.out, harness.RunsFolder), c.BundlePath()} {
		if _, err := os.Lstat(path); err == nil {
			return usageError{fmt.Errorf("%s is there already, and nothing is overwritten; name another folder with --out", path)}
		}
	}
	_, err = a.certifyOn(ctx, c, o, key)
	return err
}

// safe takes what is not for a terminal out of an error that quotes a stranger.
func safe(err error) error {
	var list specs.ErrorList
	if !errors.As(err, &list) {
		return errors.New(reports.Plain(err.Error()))
	}
	lines := make([]string, len(list))
	for i, e := range list {
		lines[i] = reports.Plain(e.Error())
	}
	return errors.New(strings.Join(lines, "\n"))
}

// bookFits says before anything is played whether a book can take the certificate.
func bookFits(dir string, h *claim.House, key *attest.Key) error {
	if dir == "" {
		return nil
	}
	b, err := recordbook.Open(dir)
	switch {
	case errors.Is(err, recordbook.ErrNone) && !occupied(dir):
		_, err := recordbook.Origin(h.Name)
		return err
	case err != nil:
		return err
	case b.House() != h.Name:
		return usageError{fmt.Errorf("%s is the book of %s, not of %s", dir, reports.Plain(b.House()), reports.Plain(h.Name))}
	case attest.KeyID(b.Key()) != key.ID():
		return usageError{fmt.Errorf("%s is kept with the key %s, not with %s", dir, attest.KeyID(b.Key()), key.ID())}
	}
	return nil
}

// certification is what `certify --json` prints.
type certification struct {
	Decision    decision.Decision       `json:"decision"`
	Standing    string                  `json:"standing"` // "none" without a book, or refused
	Before      *attest.PredicateBefore `json:"before"`
	Bundle      string                  `json:"bundle"`      // empty: refused
	Certificate string                  `json:"certificate"` // SHA-256 of the envelope; empty: refused
	Key         string                  `json:"key"`
	Index       *int64                  `json:"index"` // in the book; null: not entered
	Rests       []string                `json:"rests_on_video"`
	Early       string                  `json:"early"` // why not all was played
	Report      string                  `json:"report"`
}

// certifyOn plays, decides, and when it is certified packs, signs and enters.
func (a *app) certifyOn(ctx context.Context, c *harness.Certification, o certifying, key *attest.Key) (*certification, error) {
	stopped := c.Play(ctx, o.timeout)
	d := c.Decide()
	out := &certification{Decision: d, Standing: "none", Key: key.ID(), Rests: []string{}, Early: c.Early}
	s, err := c.Report("latchproof certify", d)
	if err != nil {
		return nil, errors.Join(stopped, err)
	}
	if out.Report, err = a.writeSession(s, o.out); err != nil {
		return nil, errors.Join(stopped, err)
	}
	if !a.json {
		if err := a.summary(withoutWarnings(s)); err != nil {
			return nil, errors.Join(stopped, err)
		}
	}
	if stopped != nil {
		if !a.json {
			fmt.Fprintf(a.out, "report: %s\n", out.Report)
		}
		return nil, stopped
	}
	if d.Outcome == decision.Certified {
		if err := a.sign(ctx, c, o, key, out); err != nil {
			return nil, err
		}
	}
	if a.json {
		err = a.printJSON(out)
	} else {
		a.tellCertification(out, o)
	}
	if err != nil {
		return nil, err
	}
	return out, verdict(d.Code)
}

// withoutWarnings is a session for the terminal, where the notes and reasons of the
// decision say it all once.
func withoutWarnings(s reports.Session) reports.Session {
	s.Specs = append([]reports.Spec{}, s.Specs...)
	for i := range s.Specs {
		s.Specs[i].Warnings = nil
	}
	return s
}

// sign packs the evidence, signs it, and enters the certificate into the book.
func (a *app) sign(ctx context.Context, c *harness.Certification, o certifying, key *attest.Key, out *certification) (err error) {
	e, err := c.Collect(ctx, out.Decision)
	if err != nil {
		return err
	}
	opt := harness.CertifyOptions{Key: key, Now: time.Now()}
	var book *recordbook.Book
	if o.book != "" {
		// From here on nobody else can enter anything, so that the standing is right.
		if book, err = openBook(o.book, c.Submission.House.Name, key); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, book.Close()) }()
		for _, n := range book.Notes() {
			fmt.Fprintf(a.err, "latchproof: %s: %s\n", o.book, n)
		}
		opt.Book = true
		if best := book.Best(c.Submission.Category, book.Len()); best != nil {
			opt.Before = best.Before()
		}
	}
	if ctx.Err() != nil {
		return fmt.Errorf("%w: no certificate was made", harness.ErrStopped)
	}
	made, err := c.Certify(out.Decision, e, opt)
	if err != nil {
		return err
	}
	out.Standing, out.Before, out.Bundle, out.Certificate, out.Rests = made.Standing, opt.Before, made.Path, made.ID, append(out.Rests, made.Rests...)
	if book == nil {
		return nil
	}
	index, err := book.Append(made.Envelope)
	if err != nil {
		return fmt.Errorf("the certificate was made (%s), but is not in the book: %w", made.Path, err)
	}
	out.Index = &index
	return nil
}

func openBook(dir, house string, key *attest.Key) (*recordbook.Book, error) {
	b, err := recordbook.OpenToAppend(dir, key)
	if errors.Is(err, recordbook.ErrNone) {
		return recordbook.Create(dir, house, key)
	}
	return b, err
}

func (a *app) tellCertification(c *certification, o certifying) {
	d := c.Decision
	say := func(format string, args ...any) { fmt.Fprintln(a.out, reports.Plain(fmt.Sprintf(format, args...))) }
	for _, n := range d.Notes {
		say("note: %s", n)
	}
	if c.Early != "" {
		say("note: %s", c.Early)
	}
	if d.Outcome == decision.Refused {
		for _, r := range d.Reasons {
			how := "cannot be told"
			if r.Certain {
				how = "does not hold"
			}
			say("refused (%s): %s", how, harness.ReasonText(r))
		}
		say("%s No certificate was made.", harness.Sentence(d))
		say("report: %s", c.Report)
		return
	}
	say("certified: %d frames (%.3f s), %d claimed, by %s: %s", d.Measured.Frames, d.Measured.Seconds, d.Claim.Frames, d.Claim.By, d.Claim.Claim)
	switch b := c.Before; decision.Standing(c.Standing) {
	case decision.First:
		say("standing: the first in the category %s", d.Claim.Category)
	case decision.Record:
		say("standing: a record in the category %s; before: %d frames by %s (entry %d)", d.Claim.Category, b.Frames, b.By, b.Index)
	case decision.Tie:
		say("standing: as many frames as the best in the category %s, by %s (entry %d), which is earlier and keeps the place", d.Claim.Category, b.By, b.Index)
	case decision.Slower:
		say("standing: slower than the best in the category %s: %d frames by %s (entry %d)", d.Claim.Category, b.Frames, b.By, b.Index)
	}
	for _, r := range c.Rests {
		say("rests on the videos: %s", r)
	}
	say("bundle: %s", c.Bundle)
	say("certificate: %s", c.Certificate)
	say("key: %s", c.Key)
	if c.Index != nil {
		say("book: entry %d of %s", *c.Index, o.book)
	}
	say("report: %s", c.Report)
}
