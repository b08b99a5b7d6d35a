package claim_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"unicode"

	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/specs"
)

// badList says what is wrong with an error of this package.
func badList(t *testing.T, err error) {
	t.Helper()
	var list specs.ErrorList
	if !errors.As(err, &list) || len(list) == 0 {
		t.Fatalf("no list of problems: %v", err)
	}
	for _, e := range list {
		if e.Line < 1 || e.Col < 1 || e.Problem == "" {
			t.Errorf("no place: %+v", e)
		}
	}
	for _, r := range err.Error() {
		if r != '\n' && !unicode.IsPrint(r) {
			t.Fatalf("%U in %q", r, err.Error())
		}
	}
}

// FuzzOpen: whatever bytes a stranger sends, opening ends, with problems that name
// a place and can be printed, or with a submission that reads back as the same.
func FuzzOpen(f *testing.F) {
	RegisterTestingT(f)
	dir, houseDir := f.TempDir(), f.TempDir()
	put := func(tb testing.TB, dir, name string, src []byte) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, src, 0o600); err != nil {
			tb.Fatal(err)
		}
		return file
	}
	picture := []byte(gate(16, 16))
	for name, text := range map[string]string{"walk.spec.yaml": specText, "walk.prog": progText, "gate.png": gate(16, 16), "house.yaml": houseText} {
		put(f, houseDir, name, []byte(text))
	}
	h, err := claim.OpenHouse(houseDir, checks.All)
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte(claimText), []byte(progText), []byte(mineText), picture)
	f.Add([]byte(ownText), []byte(progText), []byte(mineText), picture)
	f.Add([]byte(ownText), []byte("program 1\nmark jump\nrepeat 3\ntap a # x\nend\n"), []byte(mineText), []byte("\x89PNG\r\n\x1a\n"))
	for _, c := range badClaims {
		f.Add([]byte(c.to), []byte(c.from), []byte(c.to), []byte{})
	}
	f.Fuzz(func(t *testing.T, c, p, s, g []byte) {
		put(t, dir, "fast.prog", p)
		put(t, dir, "mine.spec.yaml", s)
		put(t, dir, "gate.png", g)
		got, err := claim.Open(put(t, dir, "fast.claim.yaml", c), h, checks.All)
		if err != nil {
			badList(t, err)
			return
		}
		if got.Category == "" || got.Program == nil || got.Program.Reads() > h.MaxReads || string(got.Contents["fast.claim.yaml"]) != string(c) {
			t.Fatalf("%+v", got)
		}
		back := t.TempDir()
		for name, src := range got.SpecFiles {
			put(t, back, name, src)
		}
		again, err := specs.Load(filepath.Join(back, got.SpecFile), checks.All)
		if err != nil {
			t.Fatal(err)
		}
		if again.Program.Hash() != got.Program.Hash() || again.Tail != got.Spec.Tail {
			t.Fatal("reads back as another spec")
		}
		if got.Own && claim.OwnCategory(again, got.SpecFiles) != got.Category {
			t.Fatal("another category")
		}
	})
}

// FuzzParse: whatever is accepted as a claim or as a house, the schema accepts,
// and every text of it can be shown.
func FuzzParse(f *testing.F) {
	RegisterTestingT(f)
	for _, c := range badClaims {
		f.Add([]byte(c.to))
	}
	for _, n := range badNames {
		f.Add([]byte("version: 1\nclaim: c\nby: " + n + "\nprogram: a\nframes: 1\ncategory: c\n"))
	}
	for _, src := range append([]string{claimText, ownText}, append(goodHouses, badHouses...)...) {
		f.Add([]byte(src))
	}
	claims, err := compile(claim.ClaimSchemaID, claim.ClaimSchema())
	if err != nil {
		f.Fatal(err)
	}
	houses, err := compile(claim.HouseSchemaID, claim.HouseSchema())
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		shown := func(s string) {
			for _, r := range s {
				if !unicode.IsPrint(r) || unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) {
					t.Fatalf("%U in %q", r, s)
				}
			}
		}
		if c, err := claim.Parse("a", src); err == nil {
			shown(c.What)
			shown(c.By)
			if err := accepts(claims, string(src)); err != nil {
				t.Errorf("%q: %v", src, err)
			}
		} else {
			badList(t, err)
		}
		if h, err := claim.ParseHouse("a", src); err == nil {
			shown(h.Name)
			if err := accepts(houses, string(src)); err != nil {
				t.Errorf("%q: %v", src, err)
			}
		} else {
			badList(t, err)
		}
	})
}
