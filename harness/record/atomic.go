package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"latchproof/harness/durable"
)

const tempName = ".run.json.tmp"

// FormatMeta makes the text of run.json, its own hash filled in.
func FormatMeta(m Meta) ([]byte, error) {
	m.Self = durable.Zeros
	src, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, err
	}
	src = append(src, '\n')
	return src, durable.Fill(src)
}

// ParseMeta reads the text of run.json and checks it against its own hash.
// Errors: ErrVersion, ErrDamaged (the text is not what was written), or an
// ErrorList when it is no JSON of the right form.
func ParseMeta(file string, src []byte) (Meta, error) {
	var m Meta
	var version struct {
		Format int `json:"format"`
	}
	if err := json.Unmarshal(src, &version); err == nil && (version.Format < OldestFormat || version.Format > FormatVersion) && durable.Holds(src) {
		return m, fmt.Errorf("%s: %w: %d, and %d to %d are known", file, ErrVersion, version.Format, OldestFormat, FormatVersion)
	}
	dec := json.NewDecoder(bytes.NewReader(src))
	dec.DisallowUnknownFields()
	err := dec.Decode(&m)
	if err == nil {
		if _, e := dec.Token(); e != io.EOF {
			err = errors.New("text after the object")
		}
	}
	if err != nil {
		at := dec.InputOffset()
		var syn *json.SyntaxError
		var typ *json.UnmarshalTypeError
		switch {
		case errors.As(err, &syn):
			at = syn.Offset
		case errors.As(err, &typ):
			at = typ.Offset
		}
		line, col := place(src, at)
		return m, ErrorList{{file, line, col, strings.TrimPrefix(err.Error(), "json: ")}}
	}
	damaged := func(what string) error {
		return &DamagedError{Dir: filepath.Dir(file), Problems: []Problem{{filepath.Base(file), what}}}
	}
	if !durable.Holds(src) {
		return m, damaged("its own hash differs")
	}
	switch m.State {
	case Playing, Sealed, Partial:
	default:
		return m, damaged(fmt.Sprintf("state %q is not playing, sealed or partial", m.State))
	}
	for name := range m.Files {
		if !goodName(name) {
			return m, damaged(fmt.Sprintf("file name %q leaves the folder", name))
		}
	}
	for name := range m.Dropped {
		if _, both := m.Files[name]; both || !goodName(name) {
			return m, damaged(fmt.Sprintf("dropped file %q leaves the folder or is listed twice", name))
		}
	}
	return m, nil
}

// place turns a byte offset into line and column, from 1.
func place(src []byte, at int64) (line, col int) {
	at = min(max(at, 0), int64(len(src)))
	head := src[:at]
	return 1 + bytes.Count(head, []byte{'\n'}), len(head) - bytes.LastIndexByte(head, '\n')
}

// goodName says whether a file name stays inside the run folder.
func goodName(name string) bool {
	return name != "" && filepath.IsLocal(name) && filepath.Clean(name) == name && name != "." && name != RunFile && name != tempName
}

// sumFile hashes a file; with sync it is brought to the disk first.
func sumFile(path string, sync bool) (Sum, error) {
	f, err := os.Open(path)
	if err != nil {
		return Sum{}, err
	}
	defer f.Close()
	if sync {
		if err := f.Sync(); err != nil {
			return Sum{}, err
		}
	}
	h := sha256.New()
	n, err := io.Copy(h, f)
	if err != nil {
		return Sum{}, err
	}
	return Sum{SHA256: hex.EncodeToString(h.Sum(nil)), Bytes: n}, nil
}
