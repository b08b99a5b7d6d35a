package specs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// Parse reads a spec file: syntax and values only, no other file is opened.
// file is used in messages and for Dir. The error is an ErrorList of all
// problems; the spec is nil then.
func Parse(file string, src []byte, kinds Registry) (*Spec, error) {
	s, p := parse(file, src, kinds)
	if err := p.err(); err != nil {
		return nil, err
	}
	return s, nil
}

// parse gives the spec as far as it was read, nil when it is no mapping.
func parse(file string, src []byte, kinds Registry) (*Spec, *problems) {
	d := &document{file: file, refused: map[*yaml.Node]bool{}}
	root := d.root(src)
	if root == nil {
		return nil, &d.problems
	}
	d.walk(root, 1)
	v := &Value{doc: d, node: root}
	if root.Kind != yaml.MappingNode {
		v.want("a mapping with the keys of a spec")
		return nil, &d.problems
	}
	s, _ := specMapping(kinds).Read(v)
	s.File, s.Dir, s.Source = file, filepath.Dir(file), bytes.Clone(src)
	return &s, &d.problems
}

// fail reports a problem at a place that is no value.
func (d *document) fail(line, col int, format string, args ...any) {
	d.problems.add(Pos{File: d.file, Line: line, Col: col}.Errorf(format, args...))
}

// root is the one document of a YAML file, or nil after a problem.
func (d *document) root(src []byte) *yaml.Node {
	if len(src) > MaxBytes {
		d.fail(1, 1, "%d bytes; a spec has at most %d", len(src), MaxBytes)
		return nil
	}
	if !d.isText(src) {
		return nil
	}
	dec := yaml.NewDecoder(bytes.NewReader(src))
	var doc, next yaml.Node
	if err := decode(dec, &doc); errors.Is(err, io.EOF) || err == nil && empty(&doc) {
		d.fail(1, 1, "the file is empty")
		return nil
	} else if err != nil {
		d.syntax(err)
		return nil
	}
	switch err := decode(dec, &next); {
	case err == nil:
		d.fail(max(next.Line, 1), max(next.Column, 1), "a second document; a file holds one")
	case !errors.Is(err, io.EOF):
		d.syntax(err)
		return nil
	}
	return doc.Content[0]
}

// decode is dec.Decode with a panic of the YAML library turned into an error:
// a file must never stop the program.
func decode(dec *yaml.Decoder, n *yaml.Node) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("yaml: cannot be read: %v", r)
		}
	}()
	return dec.Decode(n)
}

// empty says that a document has nothing but comments.
func empty(doc *yaml.Node) bool {
	if len(doc.Content) == 0 {
		return true
	}
	n := doc.Content[0]
	return n.Kind == yaml.ScalarNode && n.Tag == "!!null" && n.Value == "" && n.Anchor == "" && n.Style&yaml.TaggedStyle == 0
}

// isText refuses what is not UTF-8 text, at the first bad byte.
func (d *document) isText(src []byte) bool {
	line, col := 1, 1
	for i := 0; i < len(src); {
		r, size := utf8.DecodeRune(src[i:])
		switch {
		case r == utf8.RuneError && size <= 1:
			d.fail(line, col, "byte 0x%02x is not UTF-8 text", src[i])
			return false
		case r < ' ' && r != '\n' && r != '\r' && r != '\t', r >= 0x7f && r < 0xa0 && r != 0x85:
			d.fail(line, col, "control character 0x%02x; only plain text is allowed", r)
			return false
		case r == '\n':
			line, col = line+1, 0
		}
		col++
		i += size
	}
	return true
}

var yamlError = regexp.MustCompile(`(?s)^yaml: (?:line ([0-9]+): )?(.*)$`)

// ofParser are the problems that come from the YAML reader's parser. It counts
// their lines from 0; those of its scanner count from 1.
var ofParser = regexp.MustCompile(`^did not find expected (<|node content|key|'-'|',')`)

// syntax reports what the YAML reader says. It names a line at most, which can
// be the one where the broken list or mapping begins.
func (d *document) syntax(err error) {
	line, text := 1, err.Error()
	if m := yamlError.FindStringSubmatch(text); m != nil {
		text = m[2]
		if n, err := strconv.Atoi(m[1]); err == nil && n > 0 {
			line = n
			if ofParser.MatchString(text) {
				line++
			}
		}
	}
	text = strings.ReplaceAll(strings.TrimSpace(text), "\n", "; ")
	if text != "" {
		text = strings.ToLower(text[:1]) + text[1:]
	}
	d.fail(line, 1, "not yaml: %s", text)
}
