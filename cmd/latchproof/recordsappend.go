package main

import (
	"errors"
	"fmt"
	"reflect"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/attest"
	"latchproof/harness/decision"
	"latchproof/harness/recordbook"
	"latchproof/reports"
)

func (a *app) recordsAppendCommand(book *string) *cobra.Command {
	var key string
	var from passphrase
	c := &cobra.Command{
		Use:   "append CERTIFICATE",
		Short: "Enter a certificate that certify made and could not enter",
		Long: strings.TrimSpace(`
Enters a certificate of the house into its record book: a bundle, or its
certificate.json. "certify --book" does so itself; this is for a certificate that
was made when the disk was full, the book was in use, or the computer stopped. The
book must be there.

Refused are a certificate that the book has, with its index, one that another key
signed, and one that says of itself a standing in the book (such as record) which
it would not have as the next entry: certify the claim again then. An append that
was interrupted before is finished first.

Exit status 1 says that it was refused.`),
		Example: "  latchproof records append out/fast.bundle --book house/book --key house.key",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			envelope, err := readCertificate(args[0])
			if err != nil {
				return err
			}
			k, err := attest.LoadKey(key, from.of(cmd.Context(), key))
			if err != nil {
				return err
			}
			b, err := recordbook.OpenToAppend(*book, k)
			if err != nil {
				return err
			}
			defer func() { _ = b.Close() }() // what Append wrote is on the disk
			a.bookNotes(b)
			index, err := appendCertificate(b, envelope)
			if errors.Is(err, recordbook.ErrDuplicate) || errors.Is(err, attest.ErrKey) || errors.Is(err, attest.ErrSignature) || errors.Is(err, attest.ErrForm) || errors.Is(err, errStanding) {
				return a.refuse(args[0], err)
			}
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(map[string]any{"holds": true, "index": index, "head": headFile(b)})
			}
			fmt.Fprintf(a.out, "entry %d of %s\ntree head: %s\n", index, reports.Plain(b.House()), headFile(b))
			return nil
		},
	}
	c.Flags().StringVar(&key, "key", "", "private key of the house (required)")
	from.flags(c)
	_ = c.MarkFlagRequired("key")
	return c
}

// errStanding says that a certificate would lie about its place in the book.
var errStanding = errors.New("its standing is no longer right")

// appendCertificate enters a certificate whose standing is right.
func appendCertificate(b *recordbook.Book, envelope []byte) (int64, error) {
	c, err := attest.Open(envelope, b.Key())
	if err != nil {
		return 0, err
	}
	_, has := b.Find(envelope)
	if p := c.Predicate; p.Standing != "none" && !has {
		var before *attest.PredicateBefore
		var other *decision.Before
		if best := b.Best(p.Claim.Category, b.Len()); best != nil {
			before = best.Before()
			other = &decision.Before{Index: before.Index, Frames: before.Frames, By: before.By, Leaf: before.Leaf}
		}
		if now := decision.Stand(p.Measured.Frames, other); p.Standing != string(now) || !reflect.DeepEqual(p.Before, before) {
			return 0, fmt.Errorf("%w: it says %s, and as the next entry it would be %s", errStanding, p.Standing, now)
		}
	}
	return b.Append(envelope)
}
