package bundle

import (
	"bytes"
	"fmt"
	"strconv"
)

// The ustar header block (IEEE Std 1003.1, pax, "ustar Interchange Format").
const (
	block      = 512
	nameSize   = 100
	prefixSize = 155
	maxSize    = 1<<33 - 1 // eleven octal digits
)

// fields of the header, for messages.
var fields = []struct {
	name     string
	from, to int
}{
	{"name", 0, 100}, {"mode", 100, 108}, {"owner", 108, 116}, {"group", 116, 124}, {"size", 124, 136}, {"time", 136, 148},
	{"kind", 156, 157}, {"link", 157, 257}, {"magic", 257, 263}, {"version", 263, 265},
	{"owner's name", 265, 297}, {"group's name", 297, 329}, {"device", 329, 345}, {"prefix", 345, 500}, {"rest", 500, 512},
	{"check sum", 148, 156}, // last: it differs whenever another does
}

// makeHeader is the only header that a file of that name and size has.
func makeHeader(name string, size int64) (h [block]byte) {
	prefix, rest, _ := divide(name)
	copy(h[0:], rest)
	copy(h[100:], "0000644")
	copy(h[108:], "0000000")
	copy(h[116:], "0000000")
	copy(h[124:], fmt.Sprintf("%011o", size))
	copy(h[136:], "00000000000")
	copy(h[148:], "        ") // as the check sum counts its own field
	h[156] = '0'
	copy(h[257:], "ustar\x0000")
	copy(h[329:], "0000000")
	copy(h[337:], "0000000")
	copy(h[345:], prefix)
	sum := 0
	for _, c := range h {
		sum += int(c)
	}
	copy(h[148:], fmt.Sprintf("%06o\x00 ", sum))
	return h
}

// readHeader takes a header that must be what makeHeader gives. At is where in the
// block it is not.
func readHeader(h *[block]byte) (name string, size int64, at int, err error) {
	name = text(h[0:100])
	if prefix := text(h[345:500]); prefix != "" {
		name = prefix + "/" + name
	}
	if err := CheckName(name); err != nil {
		return "", 0, 0, err
	}
	size, err = strconv.ParseInt(text(h[124:136]), 8, 64)
	if err != nil || size < 0 || size > maxSize {
		return "", 0, 124, fmt.Errorf("%s: size field %q", name, h[124:136])
	}
	want := makeHeader(name, size)
	if *h == want {
		return name, size, 0, nil
	}
	for _, f := range fields {
		if !bytes.Equal(h[f.from:f.to], want[f.from:f.to]) {
			return "", 0, f.from, fmt.Errorf("%s: header is not the canonical one: %s is %q, not %q", name, f.name, h[f.from:f.to], want[f.from:f.to])
		}
	}
	panic("unreachable")
}

// text is a field up to its first NUL.
func text(b []byte) string {
	if i := bytes.IndexByte(b, 0); i >= 0 {
		b = b[:i]
	}
	return string(b)
}

// padding is how many zeros follow contents of that size.
func padding(size int64) int64 { return -size & (block - 1) }
