package reports

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
)

// WriteJSON writes a session as indented JSON (RFC 8259), without its
// pictures. A list is never null: an empty one is []. A number that JSON has
// no form for (not a number, infinite) is an error that names its place, not a
// silent zero. The keys "$schema" and "format" come first.
func WriteJSON(w io.Writer, s Session) error {
	full, err := complete(reflect.ValueOf(s), "session")
	if err != nil {
		return err
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(document{SchemaID, formatVersion, full.Interface().(Session)})
}

// formatVersion is that of the JSON.
const formatVersion = 1

// document is a session as it is written.
type document struct {
	Schema string `json:"$schema"`
	Format int    `json:"format"`
	Session
}

// ReadJSON reads what WriteJSON wrote, also before it named its schema and
// format. Keys that it does not know are errors, and so is another format.
func ReadJSON(r io.Reader) (Session, error) {
	dec := json.NewDecoder(r)
	dec.DisallowUnknownFields()
	d := document{Format: formatVersion}
	if err := dec.Decode(&d); err != nil {
		return Session{}, fmt.Errorf("session: %w", err)
	}
	if d.Format != formatVersion {
		return Session{}, fmt.Errorf("session: format %d is not known; this reads format %d", d.Format, formatVersion)
	}
	return d.Session, nil
}

// complete is a copy of v in which no slice is nil. The session that it was
// given stays as it is.
func complete(v reflect.Value, path string) (reflect.Value, error) {
	out := reflect.New(v.Type()).Elem()
	out.Set(v)
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if !f.IsExported() || f.Tag.Get("json") == "-" {
				continue
			}
			c, err := complete(v.Field(i), path+"."+f.Name)
			if err != nil {
				return out, err
			}
			out.Field(i).Set(c)
		}
	case reflect.Slice, reflect.Array:
		if v.Kind() == reflect.Slice {
			out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		}
		for i := range v.Len() {
			c, err := complete(v.Index(i), fmt.Sprintf("%s[%d]", path, i))
			if err != nil {
				return out, err
			}
			out.Index(i).Set(c)
		}
	case reflect.Pointer:
		if v.IsNil() {
			break
		}
		c, err := complete(v.Elem(), path)
		if err != nil {
			return out, err
		}
		p := reflect.New(v.Type().Elem())
		p.Elem().Set(c)
		out.Set(p)
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return out, fmt.Errorf("%s: %v cannot be written as json", path, f)
		}
	}
	return out, nil
}
