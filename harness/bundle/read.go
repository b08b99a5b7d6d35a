package bundle

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// ErrForm says that an archive is not one that Write makes. The error names the
// place and what is wrong there.
var ErrForm = errors.New("not a canonical bundle")

// Bundle is an archive that was read. It may be used from several goroutines when
// what it is read from may.
type Bundle struct {
	r     io.ReaderAt
	names []string
	at    map[string]place
}

type place struct{ from, size int64 }

// Read reads all headers of an archive of size bytes and checks every byte but the
// contents. The errors are ErrForm, ErrLimit and those of r.
func Read(r io.ReaderAt, size int64, l Limits) (*Bundle, error) {
	if size > l.Bytes {
		return nil, fmt.Errorf("%w: %d bytes, at most %d", ErrLimit, size, l.Bytes)
	}
	b := &Bundle{r: r, at: map[string]place{}}
	seen, room := newNames(), newRoom(l)
	for at := int64(0); ; {
		var h [block]byte
		if size-at < 2*block {
			return nil, wrong(at, "it ends before its end mark")
		}
		if err := readFull(r, h[:], at); err != nil {
			return nil, err
		}
		if h == [block]byte{} {
			return b, b.finish(at, size)
		}
		name, n, off, err := readHeader(&h)
		if err != nil {
			return nil, wrong(at+int64(off), err.Error())
		}
		if err := room.take(name, n); err != nil {
			return nil, err
		}
		if k := len(b.names); k > 0 && b.names[k-1] >= name {
			return nil, wrong(at, fmt.Sprintf("%q comes after %q", name, b.names[k-1]))
		}
		if err := seen.add(name); err != nil {
			return nil, wrong(at, err.Error())
		}
		from := at + block
		if at = from + n + padding(n); at > size {
			return nil, wrong(from, fmt.Sprintf("%s: %d bytes, but the archive ends before", name, n))
		}
		if off, err := zeros(r, from+n, at); err != nil {
			return nil, err
		} else if off >= 0 {
			return nil, wrong(off, name+": not zeros after its contents")
		}
		b.names = append(b.names, name)
		b.at[name] = place{from, n}
	}
}

// finish checks the two blocks of zeros at the end.
func (b *Bundle) finish(at, size int64) error {
	off, err := zeros(b.r, at, at+2*block)
	switch {
	case err != nil:
		return err
	case off >= 0:
		return wrong(off, "not zeros in its end mark")
	case size != at+2*block:
		return wrong(at+2*block, fmt.Sprintf("%d bytes follow its end mark", size-at-2*block))
	}
	return nil
}

func wrong(at int64, what string) error { return fmt.Errorf("%w: byte %d: %s", ErrForm, at, what) }

// zeros gives the place of the first byte from..to that is not zero, or -1. It is
// asked for at most two blocks.
func zeros(r io.ReaderAt, from, to int64) (int64, error) {
	var b [2 * block]byte
	if err := readFull(r, b[:to-from], from); err != nil {
		return 0, err
	}
	for i, c := range b[:to-from] {
		if c != 0 {
			return from + int64(i), nil
		}
	}
	return -1, nil
}

func readFull(r io.ReaderAt, b []byte, at int64) error {
	n, err := r.ReadAt(b, at)
	if n == len(b) {
		return nil
	}
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return err
}

// Names gives the names of all files, in order. The caller must not change it.
func (b *Bundle) Names() []string { return b.names }

// Has says whether there is a file of that name.
func (b *Bundle) Has(name string) bool { _, ok := b.at[name]; return ok }

// Size is the size of a file, bytes; 0 when there is none.
func (b *Bundle) Size(name string) int64 { return b.at[name].size }

// Open gives the contents of a file, read from the archive as they are asked for.
func (b *Bundle) Open(name string) (*io.SectionReader, error) {
	p, ok := b.at[name]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return io.NewSectionReader(b.r, p.from, p.size), nil
}

// ReadFile gives the contents of a file of at most limit bytes; ErrLimit when it is
// larger.
func (b *Bundle) ReadFile(name string, limit int64) ([]byte, error) {
	r, err := b.Open(name)
	if err != nil {
		return nil, err
	}
	if r.Size() > limit {
		return nil, fmt.Errorf("%w: %s has %d bytes, at most %d", ErrLimit, name, r.Size(), limit)
	}
	src := make([]byte, r.Size())
	return src, readFull(b.r, src, b.at[name].from)
}

// Sum is the SHA-256 of a file's contents, lower-case hex.
func (b *Bundle) Sum(name string) (string, error) {
	r, err := b.Open(name)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	if n, err := io.Copy(h, r); err != nil {
		return "", err
	} else if n != r.Size() {
		return "", io.ErrUnexpectedEOF
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Files gives what Write packs to the same archive.
func (b *Bundle) Files() []File {
	files := make([]File, len(b.names))
	for i, name := range b.names {
		files[i] = File{Name: name, Size: b.Size(name), Open: func() (io.ReadCloser, error) {
			r, err := b.Open(name)
			return io.NopCloser(r), err
		}}
	}
	return files
}

// Opened is a bundle in a file on disk.
type Opened struct {
	*Bundle
	f *os.File
}

// Close closes the file.
func (o *Opened) Close() error { return o.f.Close() }

// OpenFile reads the archive in a regular file.
func OpenFile(path string, l Limits) (*Opened, error) {
	// Opening a pipe could wait for ever.
	if st, err := os.Stat(path); err != nil {
		return nil, err
	} else if !st.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a regular file", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	b, err := readFile(f, l)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &Opened{b, f}, nil
}

func readFile(f *os.File, l Limits) (*Bundle, error) {
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	return Read(f, st.Size(), l)
}
