package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/recordbook"
	"latchproof/reports"
)

// writeProof writes a proof to a file, or to standard output.
func (a *app) writeProof(out, what string, src []byte) error {
	if out == "" {
		_, err := a.out.Write(src)
		return err
	}
	err := writeFile(out, func(w io.Writer) error {
		_, err := w.Write(src)
		return err
	})
	switch {
	case err != nil:
		return err
	case a.json:
		return a.printJSON(map[string]any{"file": out, "proves": what})
	}
	fmt.Fprintf(a.out, "%s: proves that %s\n", out, what)
	return nil
}

func (a *app) recordsProveCommand(book *string) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "prove INDEX",
		Short: "Prove that an entry is in the record book",
		Long: strings.TrimSpace(`
Writes a proof that the entry of this index is in the record book as it is now:
JSON with the path of hashes from the entry to the root of the tree (RFC 6962,
section 2.1.1) and the signed tree head. "records verify" checks it without the
book.`),
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			index, err := strconv.ParseInt(args[0], 10, 64)
			if err != nil || index < 0 {
				return usageError{fmt.Errorf("%q is no index; the first entry has 0", args[0])}
			}
			b, err := a.openBook(*book)
			if err != nil {
				return err
			}
			p, err := b.Prove(index)
			if err != nil {
				return err
			}
			return a.writeProof(out, fmt.Sprintf("entry %d is in the book of %d", index, b.Len()), p.Format())
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "write the proof to this file instead of standard output")
	return c
}

func (a *app) recordsGrowthCommand(book *string) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "prove-growth OLDHEAD",
		Short: "Prove that the record book has grown from an old tree head: nothing was rewritten",
		Long: strings.TrimSpace(`
Writes a proof that the record book as it is now begins with exactly the entries
of the tree head in the file OLDHEAD, which somebody kept: JSON with the hashes of
RFC 6962, section 2.1.2, and both heads. "records verify" checks it without the
book.

Exit status 1 says that there is no such proof: the book was rewritten, or the
head is not one of this book.`),
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			old, err := readSmall(args[0])
			if err != nil {
				return err
			}
			b, err := a.openBook(*book)
			if err != nil {
				return err
			}
			p, err := b.ProveGrowth(old)
			if errors.Is(err, recordbook.ErrRewritten) || errors.Is(err, recordbook.ErrProof) {
				fmt.Fprintf(a.err, "latchproof: %v\n", err)
				return verdict(codeNot)
			}
			if err != nil {
				return err
			}
			return a.writeProof(out, fmt.Sprintf("the book of %d has grown from that of %s", b.Len(), args[0]), p.Format())
		},
	}
	c.Flags().StringVarP(&out, "output", "o", "", "write the proof to this file instead of standard output")
	return c
}

func (a *app) recordsVerifyCommand() *cobra.Command {
	var key, head, certificate string
	c := &cobra.Command{
		Use:   "verify PROOF",
		Short: "Check a proof of a record book with the house's public key alone",
		Long: strings.TrimSpace(`
Checks a proof that "records prove" or "records prove-growth" wrote. Nothing else
is needed but the public key of the house, from a source that you trust: neither
the book nor a connection.

  --head HEAD          the proof must speak of this very tree head, which you kept;
                       of growth it must be the old or the new one
  --certificate FILE   the entry must be this certificate: a bundle, or its
                       certificate.json

Exit status 0 says that the proof holds, 1 that it does not.`),
		Example: "  latchproof records verify entry12.json --key house.pub --certificate run.bundle",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			pub, err := attest.LoadPublic(key)
			if err != nil {
				return err
			}
			src, err := readSmall(args[0])
			if err != nil {
				return err
			}
			p, err := recordbook.Verify(src, pub)
			if err != nil {
				return a.refuse(args[0], err)
			}
			if head != "" {
				note, err := readSmall(head)
				if err != nil {
					return err
				}
				h, err := recordbook.ParseHead(note, pub)
				if err != nil {
					return a.refuse(head, err)
				}
				if !h.Same(p.Head) && !(p.Kind == recordbook.GrowthProof && h.Same(p.Old)) {
					return a.refuse(args[0], fmt.Errorf("it does not speak of the tree head %s (%d entries)", head, h.Size))
				}
			}
			var c *attest.Certificate
			if certificate != "" {
				if p.Kind != recordbook.InclusionProof {
					return usageError{errors.New("--certificate: a proof of growth is not about one certificate")}
				}
				envelope, err := readCertificate(certificate)
				if err != nil {
					return err
				}
				if recordbook.LeafHash(envelope) != p.Leaf {
					return a.refuse(args[0], fmt.Errorf("it is about another certificate than %s", certificate))
				}
				if c, err = attest.Open(envelope, pub); err != nil {
					return a.refuse(certificate, err)
				}
			}
			return a.printProven(p, c)
		},
	}
	c.Flags().StringVar(&key, "key", "", "the public key of the house (required)")
	c.Flags().StringVar(&head, "head", "", "a tree head that was kept")
	c.Flags().StringVar(&certificate, "certificate", "", "the certificate that the entry must be, or its bundle")
	_ = c.MarkFlagRequired("key")
	return c
}

// refuse tells why something does not hold.
func (a *app) refuse(file string, err error) error {
	if a.json {
		if err := a.printJSON(map[string]any{"holds": false, "why": err.Error()}); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.out, "%s: refused: %s\n", file, reports.Plain(err.Error()))
	}
	return verdict(codeNot)
}

// readCertificate reads an envelope, or that of a bundle.
func readCertificate(file string) ([]byte, error) {
	b, err := bundle.OpenFile(file, bundle.DefaultLimits)
	if err == nil {
		defer b.Close()
		return b.ReadFile("certificate.json", attest.MaxEnvelope)
	}
	src, e := readSmall(file)
	if e != nil {
		return nil, e
	}
	if !bytes.HasPrefix(src, []byte("{")) {
		return nil, fmt.Errorf("%s is neither a certificate nor a bundle: %w", file, err)
	}
	return src, nil
}

// provenJSON is what records verify --json prints of a proof that holds.
type provenJSON struct {
	Holds  bool   `json:"holds"`
	Proof  string `json:"proof"`
	Origin string `json:"origin"`
	Size   int64  `json:"size"`
	Root   string `json:"root"`
	Index  *int64 `json:"index,omitempty"`
	Leaf   string `json:"leaf,omitempty"`
	Old    *int64 `json:"old,omitempty"` // size
}

// printProven says what a proof shows; c is the certificate, if it was given.
func (a *app) printProven(p recordbook.Proven, c *attest.Certificate) error {
	if a.json {
		r := provenJSON{Holds: true, Proof: p.Kind, Origin: p.Head.Origin, Size: p.Head.Size, Root: hexHash(p.Head.Root)}
		if p.Kind == recordbook.InclusionProof {
			r.Index, r.Leaf = &p.Index, hexHash(p.Leaf)
		} else {
			r.Old = &p.Old.Size
		}
		return a.printJSON(r)
	}
	house, _ := recordbook.House(p.Head.Origin)
	house = reports.Plain(house)
	if p.Kind == recordbook.GrowthProof {
		fmt.Fprintf(a.out, "the book of %s has grown from %s to %d; none of the first %d was changed, moved or taken out\n", house, plural(int(p.Old.Size), "certificate"), p.Head.Size, p.Old.Size)
		return nil
	}
	fmt.Fprintf(a.out, "entry %d is in the book of %s of %s\n", p.Index, house, plural(int(p.Head.Size), "certificate"))
	if c == nil {
		fmt.Fprintf(a.out, "leaf hash %s; --certificate holds it against a certificate\n", hexHash(p.Leaf))
		return nil
	}
	s := c.Predicate
	fmt.Fprintf(a.out, "it is the certificate given: %s, %d frames, by %s\n", reports.Plain(s.Claim.Category), s.Measured.Frames, reports.Plain(s.Claim.By))
	return nil
}
