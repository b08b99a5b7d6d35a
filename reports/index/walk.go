package index

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"latchproof/reports"
)

// Bounds of the walk.
const (
	maxLevels   = 10
	maxNames    = 400_000
	maxReports  = 10_000
	maxSessions = 5_000
	maxAll      = 4 << 30 // bytes of all reports together
	maxUnread   = 100     // listed
)

// Files of a session.
const (
	dataFile = "report.json"
	pageFile = "report.html"
)

// ErrNone says that there is no report below the folder.
var ErrNone = errors.New("no report.json below it")

// Read gathers the sessions below a folder. now is the time of making; version is
// that of the program. An error is that the folder cannot be read, that it holds
// no report at all, or that ctx has ended; a report that cannot be read is in
// Index.Unread.
func Read(ctx context.Context, dir string, now time.Time, version string) (Index, error) {
	x := Index{Folder: dir, Made: now.UTC().Truncate(time.Second), Version: version, Sessions: []Session{}, Unread: []Unread{}, Notes: []string{}}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return x, err
	}
	defer root.Close()
	w := walk{found: map[string]bool{}}
	if err := w.walk(ctx, root.FS()); err != nil {
		return x, err
	}
	if len(w.files) == 0 && len(w.unread) == 0 {
		return x, fmt.Errorf("%s: %w", dir, ErrNone)
	}
	sessions, unread := readAll(ctx, root, w, now)
	if err := ctx.Err(); err != nil {
		return x, err
	}
	x.Unread = append(x.Unread, unread...)
	x.Notes = append(x.Notes, w.notes...)
	slices.SortStableFunc(sessions, func(a, b Session) int {
		if a.Dated != b.Dated {
			return map[bool]int{true: -1, false: 1}[a.Dated]
		}
		return cmp.Or(b.Made.Compare(a.Made), strings.Compare(a.Path, b.Path))
	})
	if n := len(sessions) - maxSessions; n > 0 {
		sessions = sessions[:maxSessions]
		x.Notes = append(x.Notes, fmt.Sprintf("There are more than %s sessions; the %s oldest are left out.", reports.Count(maxSessions), reports.Count(n)))
	}
	if n := len(x.Unread) - maxUnread; n > 0 {
		x.Unread = x.Unread[:maxUnread]
		x.Notes = append(x.Notes, fmt.Sprintf("%s more reports or folders could not be read.", reports.Count(n)))
	}
	x.Sessions = append(x.Sessions, sessions...)
	x.answer()
	return x, nil
}

// walk is what is found below a folder.
type walk struct {
	files  []string
	found  map[string]bool // folders with a page
	unread []Unread
	notes  []string
	names  int
}

var errEnough = errors.New("enough")

func (w *walk) walk(ctx context.Context, fsys fs.FS) error {
	deep := 0
	err := fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && p == ".":
			return err
		case err != nil:
			w.unread = append(w.unread, Unread{p, reason(err)})
			return fs.SkipDir
		}
		if w.names++; w.names > maxNames {
			w.notes = append(w.notes, fmt.Sprintf("There are more than %s files and folders; those after %s were not looked at.", reports.Count(maxNames), reports.Cut(p, 200)))
			return errEnough
		}
		if d.IsDir() {
			if strings.Count(p, "/") >= maxLevels {
				deep++
				return fs.SkipDir
			}
			return nil
		}
		switch {
		case !d.Type().IsRegular(): // also links: they are not followed
		case d.Name() == pageFile:
			w.found[path.Dir(p)] = true
		case d.Name() == dataFile:
			if len(w.files) == maxReports {
				w.notes = append(w.notes, fmt.Sprintf("There are more than %s reports; those from %s on were not read.", reports.Count(maxReports), reports.Cut(p, 200)))
				return errEnough
			}
			w.files = append(w.files, p)
		}
		return nil
	})
	if deep > 0 {
		w.notes = append(w.notes, fmt.Sprintf("%s more than %d levels down were not looked into.", reports.Plural(deep, "folder", "folders"), maxLevels))
	}
	if errors.Is(err, errEnough) {
		return nil
	}
	return err
}

// readAll reads the reports, several at once. What it gives is in the order of
// the walk.
func readAll(ctx context.Context, root *os.Root, w walk, now time.Time) ([]Session, []Unread) {
	type result struct {
		session Session
		err     error
	}
	results := make([]result, len(w.files))
	var left int64 = maxAll
	var lock sync.Mutex
	claim := func(n int64) bool {
		lock.Lock()
		defer lock.Unlock()
		left -= n
		return left >= 0
	}
	var group sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), 4) {
		group.Go(func() {
			for i := range next {
				s, err := readOne(root, w.files[i], claim, now)
				s.Path, s.Page = w.files[i], w.found[path.Dir(w.files[i])]
				results[i] = result{s, err}
			}
		})
	}
	for i := range w.files {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	group.Wait()
	var sessions []Session
	unread := w.unread
	for i, r := range results {
		if r.err != nil {
			unread = append(unread, Unread{w.files[i], reason(r.err)})
			continue
		}
		sessions = append(sessions, r.session)
	}
	return sessions, unread
}

func readOne(root *os.Root, name string, claim func(int64) bool, now time.Time) (Session, error) {
	f, err := root.Open(name)
	if err != nil {
		return Session{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return Session{}, err
	case !info.Mode().IsRegular():
		return Session{}, errors.New("not a file")
	case info.Size() > maxBytes:
		return Session{}, fmt.Errorf("%d MiB; a report has at most %d", info.Size()>>20, maxBytes>>20)
	case !claim(info.Size()):
		return Session{}, fmt.Errorf("the reports have more than %d MiB together", maxAll>>20)
	}
	var b bytes.Buffer
	b.Grow(int(info.Size()) + bytes.MinRead)
	if _, err := b.ReadFrom(io.LimitReader(f, maxBytes+1)); err != nil {
		return Session{}, err
	}
	if b.Len() > maxBytes {
		return Session{}, fmt.Errorf("it grew beyond %d MiB while it was read", maxBytes>>20)
	}
	return parse(b.Bytes(), now)
}

// reason is an error without the path that stands beside it.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return short(err.Error())
}
