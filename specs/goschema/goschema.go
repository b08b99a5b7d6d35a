// Package goschema makes a JSON Schema (draft 2020-12) from a Go type: keys, types
// and what is required from the field tags, descriptions from the comments in the
// type's package, and words and rules for what neither says.
package goschema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Model is what a schema is made from.
type Model struct {
	Root  reflect.Type // a struct
	Dir   string       // the folder of its package, for the comments
	ID    string       // the schema's $id
	Title string
	// Words describes keys whose field has no comment, or one that a reader of the
	// JSON has no use for; Rules is what a value must be beyond its type. The keys are
	// Type.key.
	Words map[string]string
	Rules map[string]map[string]any
	// First are keys of the root that the type does not have, all of them required;
	// FirstOrder is the order in which the schema names them.
	First      map[string]any
	FirstOrder []string
	// Closed refuses keys that the type does not have.
	Closed bool
}

// Generate is the schema, indented, with a final newline. A key without a
// description is an error, for a reader has nothing else to go by; so is a word or a
// rule for a key that is not there.
func Generate(m Model) ([]byte, error) {
	comments, err := read(m.Dir)
	if err != nil {
		return nil, err
	}
	g := &generator{Model: m, pkg: m.Root.PkgPath(), comments: comments, defs: map[string]any{}, used: map[string]bool{}}
	s, err := g.object(m.Root)
	if err != nil {
		return nil, err
	}
	for key := range m.Words {
		if !g.used[key] {
			return nil, fmt.Errorf("word for %s: the model has no such key", key)
		}
	}
	for key := range m.Rules {
		if !g.used[key] {
			return nil, fmt.Errorf("rule for %s: the model has no such key", key)
		}
	}
	properties := s["properties"].(map[string]any)
	for key, schema := range m.First {
		properties[key] = schema
	}
	s["required"] = append(m.FirstOrder[:len(m.FirstOrder):len(m.FirstOrder)], s["required"].([]string)...)
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["$id"] = m.ID
	s["title"] = m.Title
	s["$defs"] = g.defs
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(s); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

type generator struct {
	Model
	pkg      string
	comments map[string]string // of Type and of Type.Field
	defs     map[string]any
	used     map[string]bool // Type.key
}

// object is the schema of a struct of the model.
func (g *generator) object(t reflect.Type) (map[string]any, error) {
	properties, required := map[string]any{}, []string{}
	for i := range t.NumField() {
		f := t.Field(i)
		key, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if !f.IsExported() || key == "-" {
			continue
		}
		if key == "" {
			return nil, fmt.Errorf("%s.%s has no json key", t.Name(), f.Name)
		}
		may := strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")
		p, err := g.value(f.Type, may)
		if err != nil {
			return nil, fmt.Errorf("%s.%s: %w", t.Name(), f.Name, err)
		}
		name := t.Name() + "." + key
		g.used[name] = true
		for k, v := range g.Rules[name] {
			p[k] = v
		}
		about := g.comments[t.Name()+"."+f.Name]
		if said, ok := g.Words[name]; ok {
			about = said
		}
		if about == "" {
			return nil, fmt.Errorf("%s.%s (%s): no description: write a comment beside the field, or a word for it", t.Name(), f.Name, key)
		}
		p["description"] = about
		properties[key] = p
		if !may {
			required = append(required, key)
		}
	}
	about := g.comments[t.Name()]
	if about == "" {
		return nil, fmt.Errorf("%s has no comment", t.Name())
	}
	o := map[string]any{"type": "object", "description": about, "properties": properties, "required": required}
	if g.Closed {
		o["additionalProperties"] = false
	}
	return o, nil
}

// value is the schema of a value. A pointer that is not left out when nil may be
// null.
func (g *generator) value(t reflect.Type, may bool) (map[string]any, error) {
	switch t.Kind() {
	case reflect.String:
		return map[string]any{"type": "string"}, nil
	case reflect.Bool:
		return map[string]any{"type": "boolean"}, nil
	case reflect.Int, reflect.Int64:
		return map[string]any{"type": "integer"}, nil
	case reflect.Float64:
		return map[string]any{"type": "number"}, nil
	case reflect.Pointer:
		v, err := g.value(t.Elem(), false)
		if err != nil || may {
			return v, err
		}
		return map[string]any{"anyOf": []any{v, map[string]any{"type": "null"}}}, nil
	case reflect.Slice, reflect.Array:
		v, err := g.value(t.Elem(), false)
		out := map[string]any{"type": "array", "items": v}
		if t.Kind() == reflect.Array {
			out["minItems"], out["maxItems"] = t.Len(), t.Len()
		}
		return out, err
	case reflect.Map:
		v, err := g.value(t.Elem(), false)
		return map[string]any{"type": "object", "additionalProperties": v}, err
	case reflect.Struct:
		if t == reflect.TypeFor[time.Time]() {
			return map[string]any{"type": "string", "format": "date-time"}, nil
		}
		if t.PkgPath() != g.pkg {
			break
		}
		if _, ok := g.defs[t.Name()]; !ok {
			g.defs[t.Name()] = nil // it may hold itself
			o, err := g.object(t)
			if err != nil {
				return nil, err
			}
			g.defs[t.Name()] = o
		}
		return map[string]any{"$ref": "#/$defs/" + t.Name()}, nil
	}
	return nil, fmt.Errorf("no schema for %s", t)
}

// read gives the comments of the types and fields of a package.
func read(dir string) (map[string]string, error) {
	out := map[string]string{}
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		src, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, src, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		for _, d := range f.Decls {
			if gd, ok := d.(*ast.GenDecl); ok {
				for _, s := range gd.Specs {
					if ts, ok := s.(*ast.TypeSpec); ok {
						typeComments(out, gd, ts)
					}
				}
			}
		}
	}
	return out, nil
}

func typeComments(out map[string]string, gd *ast.GenDecl, ts *ast.TypeSpec) {
	st, ok := ts.Type.(*ast.StructType)
	if !ok {
		return
	}
	doc := ts.Doc
	if doc == nil {
		doc = gd.Doc
	}
	out[ts.Name.Name] = joined(doc, nil)
	for _, f := range st.Fields.List {
		for _, n := range f.Names {
			out[ts.Name.Name+"."+n.Name] = joined(f.Doc, f.Comment)
		}
	}
}

// joined is a comment as a sentence of one line: what stands above, then what stands beside.
func joined(above, beside *ast.CommentGroup) string {
	s := strings.Join(strings.Fields(above.Text()+" "+beside.Text()), " ")
	if s == "" {
		return ""
	}
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}
