package soak

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Contents is what a journal holds.
type Contents struct {
	Header  Header
	Entries []Entry
	// Torn says that the last line was not written whole, and left out. Bytes is
	// how long the journal is without it.
	Torn  bool
	Bytes int64

	last uint32 // check sum of the last whole line
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

const (
	sumDigits = 8
	firstSum  = 0       // what the check sum of the first line goes on from
	maxLine   = 1 << 20 // bytes
)

// formatLine is a line of the journal after one with the check sum before.
func formatLine(before uint32, v any) ([]byte, uint32, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, 0, err
	}
	sum := sumLine(before, text)
	line := fmt.Appendf(make([]byte, 0, len(text)+sumDigits+2), "%08x ", sum)
	line = append(append(line, text...), '\n')
	if len(line) > maxLine {
		return nil, 0, fmt.Errorf("a line of %d bytes is longer than %d", len(line), maxLine)
	}
	return line, sum, nil
}

func sumLine(before uint32, text []byte) uint32 {
	sum := crc32.Update(0, castagnoli, fmt.Appendf(nil, "%08x ", before))
	return crc32.Update(sum, castagnoli, text)
}

// openLine gives the text of a line without its line end.
func openLine(before uint32, line []byte) (text []byte, sum uint32, what string) {
	if len(line) >= maxLine {
		return nil, 0, "the line is too long"
	}
	if len(line) < sumDigits+1 || line[sumDigits] != ' ' {
		return nil, 0, "the line has no check sum"
	}
	sum = sumLine(before, line[sumDigits+1:])
	if fmt.Sprintf("%08x", sum) != string(line[:sumDigits]) {
		return nil, 0, "the check sum differs"
	}
	return line[sumDigits+1:], sum, ""
}

// Read reads a journal; file is its name in errors. A last line that was not
// written whole is left out (Contents.Torn): one without a line end, or, as a
// power failure leaves it, with a stretch of zero bytes.
//
// Errors: *DamagedError with the line; ErrVersion.
func Read(file string, src []byte) (*Contents, error) {
	c := &Contents{last: firstSum}
	expect := 1
	rest := src
	for n := 1; len(rest) > 0; n++ {
		fail := func(format string, a ...any) error { return &DamagedError{file, n, fmt.Sprintf(format, a...)} }
		at := bytes.IndexByte(rest, '\n')
		if at < 0 {
			// A line whose very end was changed is whole but for that.
			if _, _, what := openLine(c.last, rest[:len(rest)-1]); what == "" {
				return nil, fail("its line end is not there")
			}
			c.Torn = true
			break
		}
		line := rest[:at]
		text, sum, what := openLine(c.last, line)
		if what != "" {
			if at == len(rest)-1 && bytes.Contains(line, []byte{0, 0}) {
				c.Torn = true
				break
			}
			return nil, fail("%s", what)
		}
		rest = rest[at+1:]
		if n == 1 {
			if err := readHeader(text, &c.Header); errors.Is(err, ErrVersion) {
				return nil, fmt.Errorf("%s: %w", file, err)
			} else if err != nil {
				return nil, fail("%v", err)
			}
		} else {
			var e Entry
			err := strict(text, &e)
			if err == nil {
				err = e.check()
			}
			if err == nil && e.Repeat != expect {
				err = fmt.Errorf("repeat %d where %d is next", e.Repeat, expect)
			}
			if err != nil {
				return nil, fail("%v", err)
			}
			if e.Outcome != Stopped {
				expect++
			}
			c.Entries = append(c.Entries, e)
		}
		c.last = sum
		c.Bytes += int64(at) + 1
	}
	if c.Bytes == 0 {
		return nil, &DamagedError{file, 1, "there is no header"}
	}
	return c, nil
}

func readHeader(text []byte, h *Header) error {
	var v struct {
		Format int `json:"soak"`
	}
	if err := json.Unmarshal(text, &v); err == nil && v.Format != FormatVersion {
		return fmt.Errorf("%w: %d, and %d is known", ErrVersion, v.Format, FormatVersion)
	}
	if err := strict(text, h); err != nil {
		return err
	}
	return h.check()
}

func strict(text []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("text after the object")
	}
	return nil
}

// ReadFile reads the journal of a session folder. Errors: ErrNone, those of Read
// and of the system.
func ReadFile(dir string) (*Contents, error) {
	path := filepath.Join(dir, FileName)
	src, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w (%s)", dir, ErrNone, FileName)
	}
	if err != nil {
		return nil, err
	}
	return Read(path, src)
}
