package harness

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"go.yaml.in/yaml/v3"
)

// ErrBenchForm says that a bench file is written in a way in which a calibration
// cannot be put: the whole file between braces.
var ErrBenchForm = errors.New("the keys of the bench file must stand on lines of their own")

// WriteCalibration puts a calibration into a bench file, in place of the one that
// it has or at its end. Everything else in the file stays as it is, to the byte.
// The file is replaced whole or not at all; a symbolic link stays one.
//
// Errors: those of the file system, ErrBenchForm, and those of ParseBench when
// the file is not sound, before or after.
func WriteCalibration(path string, c *Calibration) error {
	path, err := filepath.EvalSymlinks(path)
	if err != nil {
		return err
	}
	src, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if _, err := ParseBench(path, src); err != nil {
		return err
	}
	out, err := withCalibration(src, c)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if _, err := ParseBench(path, out); err != nil {
		return fmt.Errorf("%s: the calibration does not fit into the file: %w", path, err)
	}
	return replace(path, out)
}

// withCalibration is the text of a bench file with another calibration.
func withCalibration(src []byte, c *Calibration) ([]byte, error) {
	var doc yaml.Node
	if err := yaml.NewDecoder(bytes.NewReader(src)).Decode(&doc); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode || doc.Content[0].Style&yaml.FlowStyle != 0 {
		return nil, ErrBenchForm
	}
	ending := "\n"
	if bytes.Contains(src, []byte("\r\n")) {
		ending = "\r\n"
	}
	text := strings.ReplaceAll(c.yaml(), "\n", ending)
	lines := strings.SplitAfter(string(src), "\n")
	if lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	}
	if last := len(lines) - 1; !strings.HasSuffix(lines[last], "\n") {
		lines[last] += ending
	}
	keys := doc.Content[0].Content
	from, to := len(lines), len(lines)
	for i := 0; i < len(keys); i += 2 {
		if keys[i].Value != "calibration" {
			continue
		}
		from = keys[i].Line - 1
		if i+2 < len(keys) {
			to = keys[i+2].Line - 1
		}
		// What stands before the next key, or at the end, is not ours.
		for to > from+1 && foreign(lines[to-1]) {
			to--
		}
	}
	for i := range lines[:from] {
		if strings.HasPrefix(lines[i], "...") { // the end of the document
			from, to = i, i
			break
		}
	}
	return []byte(strings.Join(lines[:from], "") + text + strings.Join(lines[to:], "")), nil
}

// foreign says whether a line is empty or a comment at the margin.
func foreign(line string) bool {
	return strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#")
}

// replace puts new content in the place of a file, whole or not at all.
func replace(path string, content []byte) (err error) {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".bench-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := f.Chmod(info.Mode().Perm()); err != nil {
		return err
	}
	if _, err := f.Write(content); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
