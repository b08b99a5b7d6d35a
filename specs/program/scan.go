package program

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"
)

// token is a word or a "+", with the column of its first character.
type token struct {
	text string
	col  int
}

// scanned is one line cut into words.
type scanned struct {
	number  int
	tokens  []token
	comment string // from "#" on, or empty
}

// cutComment parts a line from its comment, which starts at "#".
func cutComment(line string) (code, comment string) {
	if i := strings.IndexByte(line, '#'); i >= 0 {
		return line[:i], strings.TrimRight(line[i:], " \t")
	}
	return line, ""
}

// words cuts text into words and "+", overwriting into. Columns count from 1.
func words(text string, into []token) []token {
	tokens := into[:0]
	start, startCol, col := -1, 0, 1
	flush := func(end int) {
		if start >= 0 {
			tokens = append(tokens, token{text[start:end], startCol})
			start = -1
		}
	}
	for i, r := range text {
		switch {
		case r == ' ' || r == '\t':
			flush(i)
		case r == '+':
			flush(i)
			tokens = append(tokens, token{text[i : i+1], col})
		case start < 0:
			start, startCol = i, col
		}
		col++
	}
	flush(len(text))
	return tokens
}

// unfit looks for the first character of a line that no program may hold.
// It gives the byte offset and what is wrong, or -1.
func unfit(text string) (offset int, why rune, invalid bool) {
	for i, r := range text {
		if r == utf8.RuneError {
			if _, size := utf8.DecodeRuneInString(text[i:]); size == 1 {
				return i, rune(text[i]), true
			}
		}
		if r != '\t' && unicode.IsControl(r) {
			return i, r, false
		}
	}
	return -1, 0, false
}

var byteOrderMark = []byte("\uFEFF")

// binary reports data that are no text at all as one problem. Data without
// hasHeader are taken for text only if all of them are UTF-8.
func (p *problems) binary(src []byte, hasHeader bool) bool {
	if bytes.HasPrefix(src, []byte{0xff, 0xfe}) || bytes.HasPrefix(src, []byte{0xfe, 0xff}) {
		p.fail(1, 1, "UTF-16 text; save it as UTF-8")
		return true
	}
	if i := bytes.IndexByte(src, 0); i >= 0 {
		line, col := place(src, i)
		p.fail(line, col, "binary data: byte 0x00")
		return true
	}
	if !hasHeader && !utf8.Valid(src) {
		i := 0
		for {
			r, size := utf8.DecodeRune(src[i:])
			if r == utf8.RuneError && size == 1 {
				break
			}
			i += size
		}
		line, col := place(src, i)
		p.fail(line, col, "not UTF-8 text: byte 0x%02x", src[i])
		return true
	}
	return false
}
