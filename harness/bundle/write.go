package bundle

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
)

// File is one file to be packed.
type File struct {
	Name string // in the bundle
	Size int64  // bytes
	// Open gives its contents, which must be Size bytes.
	Open func() (io.ReadCloser, error)
}

// Bytes is a file with these contents.
func Bytes(name string, src []byte) File {
	return File{Name: name, Size: int64(len(src)), Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(src)), nil }}
}

// OnDisk is the regular file at path, under that name.
func OnDisk(name, path string) (File, error) {
	st, err := os.Lstat(path)
	if err != nil {
		return File{}, err
	}
	if !st.Mode().IsRegular() {
		return File{}, fmt.Errorf("%s is not a regular file", path)
	}
	return File{Name: name, Size: st.Size(), Open: func() (io.ReadCloser, error) { return os.Open(path) }}, nil
}

// Folder gives all regular files of a file system, their names behind prefix.
// Anything that is neither a folder nor a regular file is an error.
func Folder(fsys fs.FS, prefix string) ([]File, error) {
	var files []File
	err := fs.WalkDir(fsys, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		st, err := d.Info()
		if err != nil {
			return err
		}
		if !st.Mode().IsRegular() {
			return fmt.Errorf("%s is not a regular file", path)
		}
		files = append(files, File{Name: prefix + path, Size: st.Size(), Open: func() (io.ReadCloser, error) { return fsys.Open(path) }})
		return nil
	})
	return files, err
}

// Write packs files in the canonical form. Their order does not matter. All names
// are checked before anything is written; what Read refuses by DefaultLimits is
// refused here.
func Write(w io.Writer, files []File) error {
	files = slices.Clone(files)
	slices.SortFunc(files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	seen, room := newNames(), newRoom(DefaultLimits)
	for _, f := range files {
		if err := CheckName(f.Name); err != nil {
			return err
		}
		if err := errors.Join(seen.add(f.Name), room.take(f.Name, f.Size)); err != nil {
			return err
		}
	}
	var zeros [2 * block]byte
	for _, f := range files {
		h := makeHeader(f.Name, f.Size)
		if _, err := w.Write(h[:]); err != nil {
			return err
		}
		if err := writeContents(w, f); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
		if _, err := w.Write(zeros[:padding(f.Size)]); err != nil {
			return err
		}
	}
	_, err := w.Write(zeros[:])
	return err
}

func writeContents(w io.Writer, f File) (err error) {
	r, err := f.Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	n, err := io.Copy(w, io.LimitReader(r, f.Size))
	if err != nil {
		return err
	}
	if more, _ := io.CopyN(io.Discard, r, 1); n != f.Size || more != 0 {
		return fmt.Errorf("it is no longer %d bytes long", f.Size)
	}
	return nil
}
