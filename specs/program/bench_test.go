package program_test

import (
	"fmt"
	"strings"
	"testing"

	"latchproof/specs/program"
)

// long is a program of 100,000 holds, 300,000 reads.
func long() []byte {
	var b strings.Builder
	b.WriteString("program 1\n")
	for i := range 100_000 {
		fmt.Fprintf(&b, "hold right+%s for %d  # step\n", ntsc.Buttons[i%2], 1+i%5)
	}
	return []byte(b.String())
}

func BenchmarkParse(b *testing.B) {
	src := long()
	b.SetBytes(int64(len(src)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := program.Parse("x", src, ntsc, program.Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAt(b *testing.B) {
	flat, err := program.Parse("x", long(), ntsc, program.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	deep, err := program.Parse("x", []byte("program 1\n"+strings.Repeat("repeat 2\n", 16)+"tap a\n"+strings.Repeat("rest 1\nend\n", 16)), ntsc, program.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		p    *program.Program
	}{{"flat", flat}, {"deep", deep}} {
		b.Run(c.name, func(b *testing.B) {
			n, r := program.Read(c.p.Reads()), program.Read(0)
			for b.Loop() {
				c.p.At(r)
				r = (r + 7919) % n
			}
		})
	}
}

func BenchmarkHash(b *testing.B) {
	p, err := program.Parse("x", long(), ntsc, program.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(4 * p.Reads())
	for b.Loop() {
		p.Hash()
	}
}
