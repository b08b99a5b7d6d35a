package claim

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"latchproof/specs"
)

// folder is the folder of a submission.
type folder struct {
	dir   string
	root  *os.Root
	sizes map[string]fs.FileInfo // the regular files in it, by their names
}

// openFolder looks at everything in a folder, and opens no file of it: how many
// entries there are, what they are, how they are named and how large they are.
// Symbolic links are not followed. The folder is nil after a problem.
func openFolder(dir string) (*folder, specs.ErrorList) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, specs.ErrorList{fileStart(dir).Errorf("%w", plain(err))}
	}
	f := &folder{dir: dir, root: root, sizes: map[string]fs.FileInfo{}}
	s := scan{folder: f}
	s.dir(".", 0)
	if len(s.bad) > 0 {
		root.Close()
		return nil, s.bad
	}
	return f, nil
}

// scan is one look at a folder.
type scan struct {
	*folder
	entries int
	bytes   int64
	bad     specs.ErrorList
	over    bool // a limit of the whole is passed
}

func (s *scan) fail(name, format string, args ...any) {
	if len(s.bad) < specs.MaxProblems {
		s.bad = append(s.bad, s.pos(name).Errorf(format, args...))
	}
}

func (s *scan) dir(name string, depth int) {
	d, err := s.root.Open(name)
	if err != nil {
		s.fail(name, "%w", plain(err))
		return
	}
	defer d.Close()
	// One more than allowed is enough to know that there are too many.
	list, err := d.ReadDir(MaxEntries - s.entries + 1)
	if err != nil && !errors.Is(err, io.EOF) {
		s.fail(name, "%w", plain(err))
		return
	}
	if s.entries += len(list); s.entries > MaxEntries {
		s.over = true
		s.fail(".", "more than %d files and folders; a submission is a folder of its own", MaxEntries)
		return
	}
	slices.SortFunc(list, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	seen := map[string]string{}
	for _, e := range list {
		if s.over {
			return
		}
		full := path.Join(name, e.Name())
		// A name that begins with a dot cannot be part of a claim. Tools leave such
		// files, so they are looked at like any other but for that.
		why := badPart(strings.TrimPrefix(e.Name(), "."))
		if len(full) > MaxName {
			why = badName(full)
		}
		if why != "" {
			s.fail(full, "its name %s", why)
			continue
		}
		if other, twice := seen[strings.ToLower(e.Name())]; twice {
			s.fail(full, "differs from %s in upper and lower case alone: one file to some systems", other)
			continue
		}
		seen[strings.ToLower(e.Name())] = e.Name()
		s.entry(full, depth)
	}
}

func (s *scan) entry(name string, depth int) {
	info, err := s.root.Lstat(name)
	switch {
	case err != nil:
		s.fail(name, "%w", plain(err))
	case info.IsDir() && depth+1 > MaxDepth:
		s.fail(name, "folders more than %d deep", MaxDepth)
	case info.IsDir():
		s.dir(name, depth+1)
	case !info.Mode().IsRegular():
		s.fail(name, "%s; a submission holds regular files alone", kindOf(info.Mode()))
	case info.Size() > MaxFileBytes:
		s.fail(name, "%w: more than %d bytes", ErrTooBig, MaxFileBytes)
	default:
		if s.bytes += info.Size(); s.bytes > MaxTotalBytes {
			s.over = true
			s.fail(".", "%w: more than %d bytes in all files together", ErrTooBig, MaxTotalBytes)
			return
		}
		s.sizes[name] = info
	}
}

func kindOf(m fs.FileMode) string {
	switch {
	case m&fs.ModeSymlink != 0:
		return "a symbolic link"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeSocket != 0:
		return "a socket"
	case m&fs.ModeDevice != 0:
		return "a device"
	}
	return "no regular file"
}

// pos is the beginning of a file in the folder.
func (f *folder) pos(name string) specs.Pos {
	return fileStart(filepath.Join(f.dir, filepath.FromSlash(name)))
}

// read reads a file that was there when the folder was looked at. It must be the
// same file still, and not longer than most bytes.
func (f *folder) read(name string, most int) ([]byte, error) {
	was, ok := f.sizes[name]
	if !ok {
		return nil, fs.ErrNotExist
	}
	if was.Size() > int64(most) {
		return nil, fmt.Errorf("%w: more than %d bytes", ErrTooBig, most)
	}
	// Whatever took the file's place meanwhile: opening it must not wait.
	file, err := f.root.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, plain(err)
	}
	defer file.Close()
	is, err := file.Stat()
	if err != nil {
		return nil, plain(err)
	}
	if !is.Mode().IsRegular() || !os.SameFile(was, is) {
		return nil, errors.New("changed while it was read")
	}
	src, err := io.ReadAll(io.LimitReader(file, int64(most)+1))
	switch {
	case err != nil:
		return nil, plain(err)
	case int64(len(src)) != was.Size():
		return nil, errors.New("changed while it was read")
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
