package vision

import (
	"errors"
	"io"
	"os"
)

// Matroska element identifiers, RFC 9559 section 5.1.
const (
	idSegment     = 0x18538067
	idCluster     = 0x1F43B675
	idBlockGroup  = 0xA0
	idBlock       = 0xA1
	idSimpleBlock = 0xA3
)

var errNotMatroska = errors.New("not a whole Matroska file")

// countBlocks counts the blocks of a Matroska file, each of them one picture
// in a recording of ours, by walking the element headers only. A block that
// reaches over the end of the file is not counted. The count so far is given
// with an error.
//
// Source: RFC 8794 (EBML) section 4 to 6, RFC 9559 section 5.1.
func countBlocks(path string) (int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return walkBlocks(f, st.Size())
}

func walkBlocks(r io.ReaderAt, size int64) (int64, error) {
	w := &ebmlWalk{r: r}
	err := w.level(0, size)
	return w.blocks, err
}

type ebmlWalk struct {
	r      io.ReaderAt
	blocks int64
}

// level walks the elements from at up to end. Elements that hold blocks are
// entered; their children may follow at the same level, which is harmless
// here.
func (w *ebmlWalk) level(at, end int64) error {
	for at < end {
		id, size, head, err := w.header(at, end)
		if err != nil {
			return err
		}
		at += head
		enter := id == idSegment || id == idCluster || id == idBlockGroup
		if enter {
			continue
		}
		if size < 0 || at+size > end {
			return errNotMatroska
		}
		if id == idSimpleBlock || id == idBlock {
			w.blocks++
		}
		at += size
	}
	return nil
}

// header reads an element's identifier and size (-1 when unknown) and the
// length of both.
func (w *ebmlWalk) header(at, end int64) (id uint32, size, head int64, err error) {
	var b [12]byte
	n, err := w.r.ReadAt(b[:min(12, end-at)], at)
	if err != nil && !errors.Is(err, io.EOF) {
		return 0, 0, 0, err
	}
	idLen := vintLen(b[0])
	if idLen > 4 || n < idLen+1 {
		return 0, 0, 0, errNotMatroska
	}
	for _, c := range b[:idLen] {
		id = id<<8 | uint32(c)
	}
	s := b[idLen:n]
	sizeLen := vintLen(s[0])
	if sizeLen > 8 || len(s) < sizeLen {
		return 0, 0, 0, errNotMatroska
	}
	v := uint64(s[0]) & (1<<(8-sizeLen) - 1)
	for _, c := range s[1:sizeLen] {
		v = v<<8 | uint64(c)
	}
	if v == 1<<(7*sizeLen)-1 {
		return id, -1, int64(idLen + sizeLen), nil
	}
	return id, int64(v), int64(idLen + sizeLen), nil
}

// vintLen is the length of a variable size integer from its first byte; 9 when
// it is invalid.
func vintLen(b byte) int {
	for n := 1; n <= 8; n++ {
		if b&(1<<(8-n)) != 0 {
			return n
		}
	}
	return 9
}
