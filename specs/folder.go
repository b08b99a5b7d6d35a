package specs

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Folder is the folder of a spec. Files are opened through it so that neither
// `..` nor a symbolic link leads out of it.
type Folder struct {
	Dir string
	// Files are the folder's files by name, when they were read before: nothing is
	// read from the disk then. Nil: they are on the disk.
	Files map[string][]byte
}

// ErrTooBig means that a file is larger than allowed.
var ErrTooBig = errors.New("file too big")

// Path is the file's place for messages and for other programs.
func (f Folder) Path(name string) string { return filepath.Join(f.Dir, filepath.FromSlash(name)) }

// Read reads a whole file of at most max bytes. The errors say no path, since
// the caller knows it: errors.Is finds fs.ErrNotExist, fs.ErrPermission and
// ErrTooBig.
func (f Folder) Read(name string, max int64) ([]byte, error) {
	if f.Files != nil {
		return f.given(name, max)
	}
	dir := f.Dir
	if dir == "" {
		dir = "."
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, plain(err)
	}
	defer root.Close()
	name = filepath.FromSlash(name)
	info, err := root.Stat(name)
	if err != nil {
		return nil, plain(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("not a regular file")
	}
	if info.Size() > max {
		return nil, fmt.Errorf("%w: more than %d bytes", ErrTooBig, max)
	}
	file, err := root.Open(name)
	if err != nil {
		return nil, plain(err)
	}
	defer file.Close()
	return readAll(file, max)
}

// given is Read of a file that was read before.
func (f Folder) given(name string, max int64) ([]byte, error) {
	src, ok := f.Files[name]
	switch {
	case !ok:
		return nil, fs.ErrNotExist
	case int64(len(src)) > max:
		return nil, fmt.Errorf("%w: more than %d bytes", ErrTooBig, max)
	}
	return src, nil
}

// readAll reads at most max bytes.
func readAll(r io.Reader, max int64) ([]byte, error) {
	src, err := io.ReadAll(io.LimitReader(r, max+1))
	if err != nil {
		return nil, plain(err)
	}
	if int64(len(src)) > max {
		return nil, fmt.Errorf("%w: more than %d bytes", ErrTooBig, max)
	}
	return src, nil
}

// plain is a file error without the path and the name of the system call.
func plain(err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return at.Err
	}
	return err
}
