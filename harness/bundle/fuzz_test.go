package bundle_test

import (
	"bytes"
	"testing"

	"latchproof/harness/bundle"
)

// FuzzRead asks that whatever is read is, packed again, the same bytes.
func FuzzRead(f *testing.F) {
	for _, files := range [][]bundle.File{nil, {bundle.Bytes("a/b", []byte("text"))}, files(contents())} {
		var b bytes.Buffer
		if err := bundle.Write(&b, files); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		b, err := read(src)
		if err != nil {
			return
		}
		var again bytes.Buffer
		if err := bundle.Write(&again, b.Files()); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(again.Bytes(), src) {
			t.Fatal("packed again it differs")
		}
	})
}
