package specs_test

import (
	"errors"
	"testing"

	"latchproof/specs"
)

// FuzzParse: no input stops the program, every problem has a place in the
// file, and what is read formats to moments that read back the same.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"", whole, minimal, "a: &x [*x]", "- [", "? {a: b}\n: c", "\xff", "---\n---\n", "a: !!binary x",
		whole + "labels: [a, b]\nanchor: {frame: 1, lamp: 2}\nrepeats: 3\nlockstep: {required: 2}\ntail: 5\ntimeout: 1m",
		minimal + "checkpoints:\n- {name: n, at: [jump-2, jump+3], every: true, unseen: 1, meter: m, equals: 4}\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		s, err := specs.Parse("a", src, kinds)
		if err != nil {
			var list specs.ErrorList
			if s != nil || !errors.As(err, &list) || len(list) == 0 || len(list) > specs.MaxProblems+1 {
				t.Fatalf("spec %v, error %v", s, err)
			}
			for _, e := range list {
				if e.File != "a" || e.Line < 1 || e.Col < 1 || e.Problem == "" {
					t.Errorf("no place: %+v", e)
				}
			}
			return
		}
		for _, c := range s.Checkpoints {
			for _, m := range []specs.Moment{c.At.From, c.At.To} {
				if back, err := specs.ParseMoment(m.String()); err != nil || back != m {
					t.Errorf("%+v is written %s and read as %+v, %v", m, m, back, err)
				}
			}
			if c.Check == nil || c.Kind == "" || c.Name == "" {
				t.Errorf("checkpoint without a check: %+v", c)
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	src := []byte(minimal + "checkpoints:\n")
	for i := range 50 {
		src = append(src, "  - {name: n"...)
		src = append(src, byte('0'+i/10), byte('0'+i%10))
		src = append(src, ", at: [jump-2, jump+300], every: true, lamp: 4}\n"...)
	}
	b.SetBytes(int64(len(src)))
	for b.Loop() {
		if _, err := specs.Parse("a", src, kinds); err != nil {
			b.Fatal(err)
		}
	}
}
