package main

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/spf13/cobra"

	"latchproof/harness/attest"
)

func (a *app) keyCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "key",
		Short: "Make and show the keys that certificates are signed with",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.keyNewCommand(), a.keyShowCommand())
	return c
}

func (a *app) keyNewCommand() *cobra.Command {
	var from passphrase
	var none bool
	c := &cobra.Command{
		Use:   "new FILE",
		Short: "Make a key: FILE, the private one, and FILE.pub",
		Long: strings.TrimSpace(`
Makes an Ed25519 key (RFC 8032). FILE holds the private key in OpenSSH's form,
encrypted with a passphrase (bcrypt and AES-256), readable by its owner alone.
FILE.pub holds the public key in PEM (RFC 8410), to be given to whoever checks
certificates. Neither file may be there before, and the private key is never
printed.

The passphrase is asked for twice on the terminal, unless --passphrase-file or
--passphrase-fd gives it. There is no way to get a lost passphrase or key back.`),
		Example: "  latchproof key new house.key\n  latchproof key new house.key --passphrase-fd 3 3<secret",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			var secret []byte
			if !none {
				var err error
				if secret, err = from.forNew(cmd.Context()); err != nil {
					return err
				}
			}
			defer clear(secret)
			pub, err := attest.NewKey(args[0], secret)
			if errors.Is(err, fs.ErrExist) {
				return usageError{fmt.Errorf("%w; a key is never overwritten", err)}
			}
			if err != nil {
				return err
			}
			if a.json {
				return a.printKey(args[0]+".pub", pub)
			}
			how := "protected by a passphrase"
			if none {
				how = "not protected by a passphrase"
			}
			fmt.Fprintf(a.out, "%s: private key, %s; keep it\n%s.pub: public key %s\n", args[0], how, args[0], attest.KeyID(pub))
			return nil
		},
	}
	from.flags(c)
	c.Flags().BoolVar(&none, "no-passphrase", false, "do not encrypt the private key")
	c.MarkFlagsMutuallyExclusive("no-passphrase", "passphrase-file")
	c.MarkFlagsMutuallyExclusive("no-passphrase", "passphrase-fd")
	return c
}

func (a *app) keyShowCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "show FILE",
		Short: "Print a public key and its name",
		Long: strings.TrimSpace(`
Prints the public key in FILE, a public key or a private one, in PEM (RFC 8410),
and its name: the SHA-256 of its SubjectPublicKeyInfo, which certificates carry as
keyid. No passphrase is needed. A private key that others than its owner can read
is refused.`),
		Example: "  latchproof key show house.key.pub",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			pub, err := attest.LoadPublic(args[0])
			if err != nil {
				return err
			}
			if a.json {
				return a.printKey(args[0], pub)
			}
			fmt.Fprintf(a.out, "SHA256 %s\n%s", attest.KeyID(pub), attest.PublicPEM(pub))
			return nil
		},
	}
}

func (a *app) printKey(file string, pub ed25519.PublicKey) error {
	return a.printJSON(map[string]any{"file": file, "id": attest.KeyID(pub), "public": attest.PublicPEM(pub)})
}
