package console

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// keys are the keys of a profile file, in the order that Format writes them.
var keys = []string{
	"version", "console", "about", "raster", "rate", "derivation",
	"buttons", "ports", "reads_per_frame", "burst_gap", "latch",
}

var requiredKeys = []string{"version", "console", "raster", "rate", "buttons"}

// Parse reads a profile file; the package comment gives the form. The file
// name serves messages only. The error is an ErrorList with every problem.
func Parse(file string, src []byte) (Profile, error) {
	d := decoder{file: file, nodes: map[string]*yaml.Node{}, bad: map[string]bool{}}
	p := Profile{Ports: 2, ReadsPerFrame: 1, BurstGap: defaultBurstGap, LatchActive: "high"}
	if root := d.document(src); root != nil {
		d.mapping(root, &p)
		d.check(p)
	}
	d.problems.Sort()
	if err := d.problems.Err(); err != nil {
		return Profile{}, err
	}
	return p, nil
}

type decoder struct {
	file     string
	problems ErrorList
	nodes    map[string]*yaml.Node // the value of each key given
	bad      map[string]bool       // keys already reported
}

func (d *decoder) failAt(line, col int, key, format string, args ...any) {
	d.problems = append(d.problems, Problem{d.file, line, col, key, fmt.Sprintf(format, args...)})
	d.bad[key] = true
}

func (d *decoder) fail(n *yaml.Node, key, format string, args ...any) {
	d.failAt(n.Line, n.Column, key, format, args...)
}

var yamlLine = regexp.MustCompile(`^(?:yaml: )?(?:line (\d+): )?`)

func (d *decoder) syntax(err error) {
	text := err.Error()
	m := yamlLine.FindStringSubmatch(text)
	line := 1
	if n, err := strconv.Atoi(m[1]); err == nil {
		line = max(n, 1)
	}
	d.failAt(line, 1, "", "not yaml: %s", text[len(m[0]):])
}

// document gives the mapping at the top, or nil after reporting why not.
func (d *decoder) document(src []byte) *yaml.Node {
	dec := yaml.NewDecoder(bytes.NewReader(src))
	var doc, more yaml.Node
	if err := dec.Decode(&doc); errors.Is(err, io.EOF) {
		d.failAt(1, 1, "", "empty file")
		return nil
	} else if err != nil {
		d.syntax(err)
		return nil
	}
	switch err := dec.Decode(&more); {
	case errors.Is(err, io.EOF):
	case err != nil:
		d.syntax(err)
	default:
		d.fail(&more, "", "a second document")
	}
	root := doc.Content[0]
	if root.Kind != yaml.MappingNode {
		d.fail(root, "", "must be a mapping of keys, not %s", kindOf(root))
		return nil
	}
	return root
}

func (d *decoder) mapping(root *yaml.Node, p *Profile) {
	for i := 0; i+1 < len(root.Content); i += 2 {
		k, v := root.Content[i], root.Content[i+1]
		if k.Kind != yaml.ScalarNode {
			d.fail(k, "", "a key must be a word, not %s", kindOf(k))
			continue
		}
		key := k.Value
		if first, twice := d.nodes[key]; twice {
			d.fail(k, quoteKey(key), "given twice; first at line %d", first.Line)
			continue
		}
		if d.value(k, v, p) {
			d.nodes[key] = v
		}
	}
	for _, key := range requiredKeys {
		if _, given := d.nodes[key]; !given {
			d.fail(root, key, "missing")
		}
	}
}

// value decodes one key. It reports false when the key is unknown.
func (d *decoder) value(k, v *yaml.Node, p *Profile) bool {
	switch key := k.Value; key {
	case "version":
		if n, ok := d.int(v, key); ok && n != 1 {
			d.fail(v, key, "%d is not known; this reader knows version 1", n)
		}
	case "console":
		d.text(v, key, &p.Name)
	case "about":
		d.text(v, key, &p.About)
	case "derivation":
		d.text(v, key, &p.Derivation)
	case "latch":
		d.text(v, key, &p.LatchActive)
	case "ports":
		p.Ports, _ = d.int(v, key)
	case "reads_per_frame":
		p.ReadsPerFrame, _ = d.int(v, key)
	case "raster":
		if d.sequence(v, key) {
			if len(v.Content) != 2 {
				d.fail(v, key, "must be [width, height]")
				break
			}
			p.Width, _ = d.int(v.Content[0], key)
			p.Height, _ = d.int(v.Content[1], key)
		}
	case "rate":
		if v.Kind != yaml.ScalarNode || v.Tag == "!!null" {
			d.fail(v, key, "must be a whole number or a fraction such as 39375000/655171, not %s", kindOf(v))
			break
		}
		r, err := ParseRate(v.Value)
		if err != nil {
			d.fail(v, key, "%v", err)
		}
		p.Rate = r
	case "burst_gap":
		var s string
		if v.Kind == yaml.ScalarNode && v.Tag == "!!int" {
			d.fail(v, key, "%s has no unit; write a duration such as 2ms", quote(v.Value))
		} else if d.text(v, key, &s) {
			gap, err := time.ParseDuration(s)
			if err != nil {
				d.fail(v, key, "%s is not a duration such as 2ms", quote(s))
			}
			p.BurstGap = gap
		}
	case "buttons":
		if d.sequence(v, key) {
			p.Buttons = make([]string, len(v.Content))
			for i, item := range v.Content {
				d.text(item, key, &p.Buttons[i])
			}
		}
	default:
		if near, ok := Nearest(key, keys); ok {
			d.fail(k, quoteKey(key), "unknown key; did you mean %q?", near)
		} else {
			d.fail(k, quoteKey(key), "unknown key; known are %s", strings.Join(keys, ", "))
		}
		return false
	}
	return true
}

// text takes a string. Scalars that YAML reads as something else (yes, 1.5,
// null) are errors, so that what is written is what is meant.
func (d *decoder) text(v *yaml.Node, key string, to *string) bool {
	if v.Kind != yaml.ScalarNode || v.Tag != "!!str" {
		d.fail(v, key, "must be text, not %s", kindOf(v))
		return false
	}
	*to = v.Value
	return true
}

func (d *decoder) int(v *yaml.Node, key string) (int, bool) {
	if v.Kind != yaml.ScalarNode || v.Tag != "!!int" {
		d.fail(v, key, "must be a whole number, not %s", kindOf(v))
		return 0, false
	}
	n, err := strconv.ParseInt(v.Value, 10, 32)
	if errors.Is(err, strconv.ErrRange) {
		d.fail(v, key, "%s is out of range", quote(v.Value))
		return 0, false
	}
	if err != nil {
		d.fail(v, key, "%s must be written in decimal digits", quote(v.Value))
		return 0, false
	}
	return int(n), true
}

func (d *decoder) sequence(v *yaml.Node, key string) bool {
	if v.Kind != yaml.SequenceNode {
		d.fail(v, key, "must be a list, not %s", kindOf(v))
		return false
	}
	return true
}

// check gives the faults of the decoded profile their places. Keys that were
// missing or already reported are left alone.
func (d *decoder) check(p Profile) {
	for _, f := range p.faults() {
		if d.bad[f.key] {
			continue
		}
		n, given := d.nodes[f.key]
		if !given { // a default that does not fit the keys given
			n = d.nodes["rate"]
			if n == nil {
				continue
			}
		}
		if f.item >= 0 && f.item < len(n.Content) {
			n = n.Content[f.item]
		}
		d.problems = append(d.problems, Problem{d.file, n.Line, n.Column, f.key, f.text})
	}
	if b, ok := Builtin(p.Name); ok && len(d.problems) == 0 && !reflect.DeepEqual(b, p) {
		d.fail(d.nodes["console"], "console", "%q is a built-in profile and differs from this one; choose another name", p.Name)
	}
}

// quoteKey keeps a plain key as it is and quotes any other.
func quoteKey(key string) string {
	if nameForm.MatchString(key) {
		return key
	}
	return quote(key)
}

// kindOf says what a node is, for messages.
func kindOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a mapping"
	case yaml.SequenceNode:
		return "a list"
	case yaml.AliasNode:
		return "an alias"
	}
	switch n.Tag {
	case "!!null":
		return "nothing"
	case "!!str":
		return "text " + quote(n.Value)
	case "!!bool":
		return "yes or no (" + quote(n.Value) + ")"
	case "!!int", "!!float":
		return "the number " + quote(n.Value)
	}
	return "a " + quote(n.Tag) + " value"
}
