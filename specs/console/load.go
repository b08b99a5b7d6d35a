package console

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// maxFile bounds a profile file in bytes.
const maxFile = 1 << 20

// ErrUnknown says that a name is neither a built-in profile nor a file.
var ErrUnknown = errors.New("no such console")

// Load gives the built-in profile of that name, or reads the profile file at
// that path, relative to dir. Built-in names win; write "./ntsc-8bit" for a
// file of that name. Errors: ErrUnknown when there is neither, an ErrorList
// for a bad file, or the system's own error.
func Load(nameOrPath, dir string) (Profile, error) {
	if p, ok := Builtin(nameOrPath); ok {
		return p, nil
	}
	path := nameOrPath
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, path)
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Profile{}, fmt.Errorf("%w: %s is not a built-in profile (%s), and there is no file %s",
			ErrUnknown, quote(nameOrPath), strings.Join(Names(), ", "), path)
	}
	if err != nil {
		return Profile{}, err
	}
	defer f.Close()
	src, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err != nil {
		return Profile{}, err
	}
	if len(src) > maxFile {
		return Profile{}, fmt.Errorf("%s: larger than %d bytes; not a console profile", path, maxFile)
	}
	return Parse(path, src)
}
