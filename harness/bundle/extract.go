package bundle

import (
	"errors"
	"io"
	"os"
	"path"
	"strings"
)

// Extract writes all files whose names begin with prefix into the folder dir, which
// is made when it is not there, under their names without the prefix. No file may be
// there before, and nothing is written outside of dir, whatever links it holds.
func (b *Bundle) Extract(dir, prefix string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	for _, name := range b.names {
		rest, ok := strings.CutPrefix(name, prefix)
		if !ok || rest == "" {
			continue
		}
		rest = strings.TrimPrefix(rest, "/")
		if err := root.MkdirAll(path.Dir(rest), 0o777); err != nil {
			return err
		}
		if err := b.extract(root, name, rest); err != nil {
			return err
		}
	}
	return nil
}

func (b *Bundle) extract(root *os.Root, name, to string) (err error) {
	r, err := b.Open(name)
	if err != nil {
		return err
	}
	f, err := root.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	n, err := io.Copy(f, r)
	if err == nil && n != r.Size() {
		err = io.ErrUnexpectedEOF
	}
	return err
}
