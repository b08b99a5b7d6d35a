package durable

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// ErrFull says that the disk, or a quota on it, is full.
var ErrFull = errors.New("disk is full")

// ErrLocked says that another process has the lock of a file.
var ErrLocked = errors.New("another process has it locked")

// Plain adds ErrFull to the errors of the system that mean it.
func Plain(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return fmt.Errorf("%w: %w", ErrFull, err)
	}
	return err
}

// WriteSynced writes a file, or writes it anew, and brings it to the disk.
func WriteSynced(path string, src []byte) error { return write(path, src, os.O_TRUNC, 0o666) }

// WriteNew is WriteSynced for a file that must not be there yet.
func WriteNew(path string, src []byte) error { return write(path, src, os.O_EXCL, 0o666) }

// WriteSecret is WriteNew for a file that only its owner may read. A file that could
// not be written whole is taken away.
func WriteSecret(path string, src []byte) error {
	err := write(path, src, os.O_EXCL, 0o600)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		os.Remove(path)
	}
	return err
}

func write(path string, src []byte, how int, mode os.FileMode) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|how, mode)
	if err != nil {
		return err
	}
	_, err = f.Write(src)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// Replace puts src in the place of the file of that name in dir, by way of a
// temporary file beside it of the name temp: written, synced, renamed, and the
// folder synced. When it fails before the renaming the old file stays.
func Replace(dir, name, temp string, src []byte) error {
	from := filepath.Join(dir, temp)
	if err := WriteSynced(from, src); err != nil {
		os.Remove(from)
		return err
	}
	if err := os.Rename(from, filepath.Join(dir, name)); err != nil {
		return err
	}
	return SyncDir(dir)
}

// SyncDir brings the names in a folder to the disk.
func SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
