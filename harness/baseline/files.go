package baseline

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"latchproof/harness/durable"
	"latchproof/harness/record"
)

func sumOf(src []byte) record.Sum {
	return record.Sum{SHA256: durable.Sum(src), Bytes: int64(len(src))}
}

// whyDropped is what a run says of the video that a baseline does not keep.
const whyDropped = "the baseline keeps the video of its reference only"

// takeRun brings the files of a sealed run into a new folder: as further names
// of the same files where the file system can, as copies otherwise, which are
// checked. The run that is taken from stays as it is, also when its video is not
// kept. It gives the hash of the new run.json.
func takeRun(from *Sealed, to string, video bool) (record.Sum, error) {
	if err := os.MkdirAll(to, 0o777); err != nil {
		return record.Sum{}, err
	}
	copied := false
	for _, name := range append(slices.Sorted(maps.Keys(from.Record.Meta.Files)), record.RunFile) {
		linked, err := take(from.Record.Path(name), filepath.Join(to, filepath.FromSlash(name)))
		if err != nil {
			return record.Sum{}, err
		}
		copied = copied || !linked
	}
	if copied {
		if _, err := record.Open(to); err != nil {
			return record.Sum{}, fmt.Errorf("the copy of %s: %w", from.Dir, err)
		}
	}
	if !video && from.Record.Has(record.CaptureFile) {
		if _, err := record.Drop(to, whyDropped, record.CaptureFile); err != nil {
			return record.Sum{}, err
		}
	}
	src, err := os.ReadFile(filepath.Join(to, record.RunFile))
	return sumOf(src), err
}

// take gives a file a further name, or copies it, and says which.
func take(from, to string) (linked bool, err error) {
	info, err := os.Lstat(from)
	if err != nil {
		return false, err
	}
	if !info.Mode().IsRegular() {
		return false, fmt.Errorf("%s: not a regular file", from)
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		return false, err
	}
	if os.Link(from, to) == nil {
		return true, nil
	}
	in, err := os.Open(from)
	if err != nil {
		return false, err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return false, err
	}
	_, err = io.Copy(out, in)
	if err == nil {
		err = out.Sync()
	}
	return false, errors.Join(err, out.Close())
}

// syncFolders brings the names in a folder, and in those below it, to the disk.
func syncFolders(dir string) error {
	return filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return err
		}
		return durable.SyncDir(path)
	})
}

// put renames the finished folder to its place.
func put(temp, dir string, replace bool) error {
	parent := filepath.Dir(dir)
	if replace {
		if _, err := os.Lstat(dir); err == nil {
			if err := swap(temp, dir); err != nil {
				return err
			}
			// What was there is now at temp, or gone.
			return errors.Join(durable.SyncDir(parent), os.RemoveAll(temp))
		}
	}
	if err := os.Rename(temp, dir); err != nil { // takes the place of an empty folder
		return err
	}
	return durable.SyncDir(parent)
}
