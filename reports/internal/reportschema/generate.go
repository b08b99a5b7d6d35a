// Package reportschema makes the JSON Schema (draft 2020-12) of report.json from
// the Go types of the report's model: keys, types and what is required from
// their field tags, descriptions from the comments beside them, and words.go for
// what the types cannot say.
package reportschema

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

// Generate is the schema with that $id of the type root, indented, with a final
// newline. The comments come from the Go files in dir, the folder of root's
// package.
//
// A key without a description is an error, for a reader has nothing else to go
// by; so is a word of words.go for a key that is not there.
func Generate(dir, id string, root reflect.Type) ([]byte, error) {
	comments, err := read(dir)
	if err != nil {
		return nil, err
	}
	g := &generator{pkg: root.PkgPath(), comments: comments, defs: map[string]any{}, used: map[string]bool{}}
	s, err := g.object(root)
	if err != nil {
		return nil, err
	}
	for key := range words {
		if !g.used[key] {
			return nil, fmt.Errorf("words.go: %s: the model has no such key", key)
		}
	}
	for key := range rules {
		if !g.used[key] {
			return nil, fmt.Errorf("words.go: rule %s: the model has no such key", key)
		}
	}
	properties := s["properties"].(map[string]any)
	properties["$schema"] = map[string]any{"const": id, "description": "Names this schema."}
	properties["format"] = map[string]any{"const": 1, "description": "Version of the format. Within one version keys are added and none changes its meaning, so a reader skips keys that it does not know."}
	s["required"] = append([]string{"$schema", "format"}, s["required"].([]string)...)
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["$id"] = id
	s["title"] = "latchproof report"
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
		for k, v := range rules[name] {
			p[k] = v
		}
		about := g.comments[t.Name()+"."+f.Name]
		if said, ok := words[name]; ok {
			about = said
		}
		if about == "" {
			return nil, fmt.Errorf("%s.%s (%s): no description: write a comment beside the field, or a word in reports/internal/reportschema/words.go", t.Name(), f.Name, key)
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
	return map[string]any{"type": "object", "description": about, "properties": properties, "required": required}, nil
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
