package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"latchproof/harness/attest"
)

// maxPassphrase is how long a passphrase may be, bytes.
const maxPassphrase = 1024

// passphrase is where the passphrase of a key comes from when nobody is asked.
type passphrase struct {
	file string
	fd   int
}

func (p *passphrase) flags(c *cobra.Command) {
	c.Flags().StringVar(&p.file, "passphrase-file", "", "take the key's passphrase from the first line of this `FILE`, which others may not read")
	c.Flags().IntVar(&p.fd, "passphrase-fd", -1, "take it from the first line of this open file descriptor `N`")
	c.MarkFlagsMutuallyExclusive("passphrase-file", "passphrase-fd")
}

func (p *passphrase) given() bool { return p.file != "" || p.fd >= 0 }

// of gives what attest.LoadKey asks for the passphrase of a key.
func (p *passphrase) of(ctx context.Context, file string) func() ([]byte, error) {
	return func() ([]byte, error) {
		if p.given() {
			return p.read()
		}
		return askHidden(ctx, "Passphrase of "+file+": ")
	}
}

// forNew gives the passphrase of a new key: as given, or asked for twice.
func (p *passphrase) forNew(ctx context.Context) ([]byte, error) {
	if p.given() {
		return p.read()
	}
	one, err := askHidden(ctx, "Passphrase for the new key: ")
	if err != nil {
		return nil, err
	}
	two, err := askHidden(ctx, "The same again: ")
	if err != nil {
		return nil, err
	}
	defer clear(two)
	if !bytes.Equal(one, two) {
		clear(one)
		return nil, usageError{errors.New("the two passphrases differ; no key was made")}
	}
	return one, nil
}

func (p *passphrase) read() ([]byte, error) {
	f := os.NewFile(uintptr(p.fd), fmt.Sprintf("file descriptor %d", p.fd))
	if p.file != "" {
		var err error
		if f, err = os.Open(p.file); err != nil {
			return nil, usageError{err}
		}
	}
	if f == nil {
		return nil, usageError{fmt.Errorf("no file descriptor %d", p.fd)}
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, usageError{err}
	}
	if mode := st.Mode(); p.file != "" && mode.IsRegular() && mode.Perm()&0o077 != 0 {
		return nil, usageError{fmt.Errorf("%s: %w: its mode is %04o, and must be 0600 or less", p.file, attest.ErrOpen, mode.Perm())}
	}
	src, err := io.ReadAll(io.LimitReader(f, maxPassphrase+2))
	if err != nil {
		return nil, usageError{err}
	}
	line, _, _ := bytes.Cut(src, []byte("\n"))
	return checked(bytes.TrimSuffix(line, []byte("\r")))
}

func checked(p []byte) ([]byte, error) {
	switch {
	case len(p) == 0:
		return nil, usageError{errors.New("the passphrase is empty")}
	case len(p) > maxPassphrase:
		return nil, usageError{fmt.Errorf("the passphrase is longer than %d bytes", maxPassphrase)}
	}
	return p, nil
}

// askHidden asks on the terminal, without echo, whatever standard input is.
func askHidden(ctx context.Context, prompt string) ([]byte, error) {
	tty, err := os.OpenFile("/dev/tty", os.O_RDWR, 0)
	if err != nil {
		return nil, usageError{errors.New("there is no terminal to ask for a passphrase on; use --passphrase-file or --passphrase-fd")}
	}
	defer tty.Close()
	fd := int(tty.Fd())
	before, err := term.GetState(fd)
	if err != nil {
		return nil, err
	}
	fmt.Fprint(tty, prompt)
	type answer struct {
		p   []byte
		err error
	}
	got := make(chan answer, 1)
	go func() {
		p, err := term.ReadPassword(fd)
		got <- answer{p, err}
	}()
	select {
	case <-ctx.Done():
		// The terminal must not be left without echo.
		return nil, errors.Join(ctx.Err(), term.Restore(fd, before))
	case a := <-got:
		fmt.Fprintln(tty)
		if a.err != nil {
			return nil, usageError{fmt.Errorf("no passphrase: %w", a.err)}
		}
		return checked(a.p)
	}
}
