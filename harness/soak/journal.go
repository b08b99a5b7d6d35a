package soak

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"latchproof/harness/durable"
)

// FileName is the journal's name in a session folder. Beside it roomName keeps
// room bytes of the disk free for its last lines, so that a soak that fills the
// disk can still say so.
const (
	FileName = "soak.jsonl"
	roomName = ".soak.room"
	room     = 32 << 10
)

// Journal is an open journal, to which lines are added. It is safe for use by
// several goroutines.
type Journal struct {
	dir string

	mu   sync.Mutex
	file *os.File
	end  int64
	last uint32
}

// Create begins a journal in the folder dir with its header, which reaches the
// disk with the folder before Create returns. Errors: ErrExists, ErrFull, or those
// of the system.
func Create(dir string, h Header) (*Journal, error) {
	fail := func(err error) (*Journal, error) { return nil, fmt.Errorf("%s: %w", dir, durable.Plain(err)) }
	h.Format = FormatVersion
	if err := h.check(); err != nil {
		return fail(err)
	}
	line, _, err := formatLine(firstSum, h)
	if err != nil {
		return fail(err)
	}
	path := filepath.Join(dir, FileName)
	if _, err := os.Lstat(path); err == nil {
		return fail(ErrExists)
	}
	temp := filepath.Join(dir, "."+FileName+".tmp")
	if err := durable.WriteSynced(temp, line); err != nil {
		os.Remove(temp)
		return fail(err)
	}
	if err := os.Rename(temp, path); err != nil {
		return fail(err)
	}
	// The folder itself may be new, too.
	for _, d := range []string{dir, filepath.Join(dir, "..")} {
		if err := durable.SyncDir(d); err != nil {
			return fail(err)
		}
	}
	j, _, err := Open(dir)
	return j, err
}

// Open opens the journal of a session folder to go on with it, and gives what it
// holds. A last line that was not written whole is removed. Errors: ErrNone,
// ErrBusy, ErrFull, those of Read and of the system.
func Open(dir string) (_ *Journal, _ *Contents, err error) {
	path := filepath.Join(dir, FileName)
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("%s: %w (%s)", dir, ErrNone, FileName)
	}
	if err != nil {
		return nil, nil, err
	}
	defer func() {
		if err != nil {
			f.Close()
			err = durable.Plain(err)
		}
	}()
	if err := durable.Lock(f); errors.Is(err, durable.ErrLocked) {
		return nil, nil, fmt.Errorf("%s: %w", path, ErrBusy)
	} else if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	c, err := ReadFile(dir)
	if err != nil {
		return nil, nil, err
	}
	j := &Journal{dir: dir, file: f, end: c.Bytes, last: c.last}
	if err := j.cut(); err != nil {
		return nil, nil, err
	}
	if err := os.WriteFile(filepath.Join(dir, roomName), make([]byte, room), 0o666); err != nil {
		os.Remove(filepath.Join(dir, roomName))
		return nil, nil, fmt.Errorf("%s: %w", dir, err)
	}
	return j, c, nil
}

// cut removes what stands after the last whole line.
func (j *Journal) cut() error {
	info, err := j.file.Stat()
	if err != nil || info.Size() == j.end {
		return err
	}
	if err := j.file.Truncate(j.end); err != nil {
		return err
	}
	return j.file.Sync()
}

// Append adds a line and returns when it has reached the disk. When the disk is
// full, the room that was kept is given back for it. After an error the line is
// not in the journal, and may be tried again. Errors: ErrFull, or those of the
// system.
func (j *Journal) Append(e Entry) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if err := e.check(); err != nil {
		return fmt.Errorf("repeat %d: %w", e.Repeat, err)
	}
	line, sum, err := formatLine(j.last, e)
	if err != nil {
		return err
	}
	err = durable.Plain(j.write(line))
	if errors.Is(err, ErrFull) {
		os.Remove(filepath.Join(j.dir, roomName))
		err = durable.Plain(j.write(line))
	}
	if err != nil {
		return fmt.Errorf("%s: %w", filepath.Join(j.dir, FileName), err)
	}
	j.end += int64(len(line))
	j.last = sum
	return nil
}

func (j *Journal) write(line []byte) error {
	_, err := j.file.WriteAt(line, j.end)
	if err == nil {
		err = j.file.Sync()
	}
	if err != nil {
		return errors.Join(err, j.cut())
	}
	return nil
}

// Close closes the journal and gives back the room that was kept.
func (j *Journal) Close() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	os.Remove(filepath.Join(j.dir, roomName))
	return j.file.Close()
}
