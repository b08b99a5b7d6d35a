package specs

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// Limits of a spec file. They are checked before or while it is read, so that
// a hostile file costs little.
const (
	MaxBytes = 1 << 20 // size of a spec file
	MaxDepth = 10      // lists and mappings within one another
)

// Value is one value of a spec file: a scalar, a list or a mapping, with its
// place. Shapes read it; problems go to the list of the whole file.
type Value struct {
	doc    *document
	node   *yaml.Node
	key    string
	beside map[string]*Value // the values of the other keys of its mapping
}

// document is what is shared by the values of one file.
type document struct {
	file     string
	problems problems
	refused  map[*yaml.Node]bool // nodes whose form is already reported
}

// Pos is where the value stands.
func (v *Value) Pos() Pos {
	line, col := v.node.Line, v.node.Column
	return Pos{File: v.doc.file, Line: max(line, 1), Col: max(col, 1), Key: v.key}
}

// Fail reports a problem of this value.
func (v *Value) Fail(format string, args ...any) {
	v.doc.problems.add(v.Pos().Errorf(format, args...))
}

// FailAt reports a problem at a place within this value that was read before.
func (v *Value) FailAt(at Pos, format string, args ...any) {
	v.doc.problems.add(at.Errorf(format, args...))
}

// Beside is the value of another key of the same mapping. A kind of
// checkpoint uses it for the companion keys that it declares.
func (v *Value) Beside(key string) (*Value, bool) {
	b, ok := v.beside[key]
	return b, ok
}

// child is a value within this one.
func (v *Value) child(key string, node *yaml.Node) *Value {
	if v.key != "" && !strings.HasPrefix(key, "[") {
		key = "." + key
	}
	return &Value{doc: v.doc, node: node, key: v.key + key}
}

// want reports that the value is not of the form wanted, unless its form was
// reported before.
func (v *Value) want(what string) {
	if !v.doc.refused[v.node] {
		v.Fail("want %s, have %s", what, v.have())
	}
}

// have names what the value is, for messages.
func (v *Value) have() string {
	n := v.node
	switch n.Kind {
	case yaml.MappingNode:
		return "a mapping"
	case yaml.SequenceNode:
		return "a list"
	}
	switch n.Tag {
	case "!!null":
		return "nothing"
	case "!!str", "!!timestamp", "!!merge":
		return "the text " + show(n.Value)
	}
	return short(n.Value)
}

// short is a text cut to a length fit for a message.
func short(s string) string {
	const most = 40
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "..."
}

// show is a text in quotes, cut to a length fit for a message. What cannot be
// seen by itself is escaped: controls, what turns the direction of the text, what
// has no width, and marks on other letters.
func show(s string) string {
	var b strings.Builder
	for _, r := range fmt.Sprintf("%q", short(s)) {
		switch {
		case !unicode.In(r, unicode.M, unicode.Other_Default_Ignorable_Code_Point) && r != '\u2800':
			b.WriteRune(r)
		case r <= 0xffff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			fmt.Fprintf(&b, `\U%08x`, r)
		}
	}
	return b.String()
}

// walk refuses the forms of YAML that a spec never needs: anchors, aliases,
// merge keys, explicit tags, keys that are not plain text, and deep nesting.
func (d *document) walk(n *yaml.Node, depth int) {
	v := &Value{doc: d, node: n}
	refuse := func(format string, args ...any) {
		v.Fail(format, args...)
		d.refused[n] = true
	}
	if n.Kind == yaml.AliasNode {
		refuse("aliases are not allowed; write the value out")
		return
	}
	if n.Anchor != "" {
		v.Fail("anchors are not allowed; write the value out where it is needed")
	}
	if n.Style&yaml.TaggedStyle != 0 {
		refuse("tags are not allowed")
	}
	if n.Kind == yaml.ScalarNode {
		return
	}
	if depth > MaxDepth {
		refuse("nested deeper than %d", MaxDepth)
		return
	}
	if n.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			if k.Kind == yaml.ScalarNode && k.Tag == "!!merge" {
				kv := &Value{doc: d, node: k}
				kv.Fail("merge keys are not allowed; write the keys out")
				d.refused[k] = true
			}
		}
	}
	for _, c := range n.Content {
		d.walk(c, depth+1)
	}
}

// IsMapping says whether the value is a mapping: for kinds whose value is one
// thing or another.
func (v *Value) IsMapping() bool { return v.node.Kind == yaml.MappingNode }

// IsList says whether the value is a list.
func (v *Value) IsList() bool { return v.node.Kind == yaml.SequenceNode }

// IsText says whether the value is a text: plain or quoted, and no number,
// true, false or nothing.
func (v *Value) IsText() bool {
	n, ok := v.scalar()
	return ok && (n.Tag == "!!str" || n.Tag == "!!timestamp")
}
