package program_test

import (
	"bytes"
	"errors"
	"math"
	"testing"

	"latchproof/specs/program"
)

// fuzzLimits keep one try short.
var fuzzLimits = program.Limits{Reads: 5000, Nesting: 5}

func checkProblems(t *testing.T, err error) {
	t.Helper()
	var list program.ErrorList
	if !errors.As(err, &list) || len(list) == 0 {
		t.Fatalf("%T is not a list of problems", err)
	}
	line := 1
	for _, p := range list {
		if p.Line < line || p.Col < 1 || p.File != "f" || p.Text == "" {
			t.Fatalf("%#v after line %d", p, line)
		}
		line = p.Line
	}
}

// checkProgram tries everything that holds for any program.
func checkProgram(t *testing.T, p *program.Program) {
	t.Helper()
	var r int64
	last := program.Run{}
	for i, run := range p.Runs() {
		if run.Count < 1 || i > 0 && run.State == last.State {
			t.Fatalf("run %d is %v after %v", i, run, last)
		}
		for _, at := range []int64{r, r + run.Count - 1} {
			if got := p.At(program.Read(at)); got != run.State {
				t.Fatalf("at %d: %v, run has %v", at, got, run.State)
			}
			if p.LineAt(program.Read(at)) < 2 {
				t.Fatalf("no line at %d", at)
			}
		}
		r += run.Count
		last = run
	}
	if r != p.Reads() || r < 1 || r > fuzzLimits.Reads {
		t.Fatalf("runs make %d reads of %d", r, p.Reads())
	}
	for _, outside := range []program.Read{-1, program.Read(r), math.MinInt64, math.MaxInt64} {
		if p.At(outside) != (program.State{}) || p.LineAt(outside) != 0 {
			t.Fatalf("something at %d", outside)
		}
	}

	text := p.Format()
	again, err := program.Parse("f", text, ntsc, fuzzLimits)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if again.Hash() != p.Hash() {
		t.Fatalf("another hash after formatting:\n%s", text)
	}
	if second := again.Format(); !bytes.Equal(second, text) {
		t.Fatalf("%q\nformats to\n%q", text, second)
	}
	if len(again.Marks()) != len(p.Marks()) {
		t.Fatalf("%d marks, then %d", len(p.Marks()), len(again.Marks()))
	}
	for i, m := range again.Marks() {
		if was := p.Marks()[i]; m.Name != was.Name || m.Read != was.Read {
			t.Fatalf("%v became %v", was, m)
		}
	}

	var rows bytes.Buffer
	if err := p.ExportCSV(&rows); err != nil {
		t.Fatal(err)
	}
	back, err := program.ImportCSV("f", rows.Bytes(), ntsc, fuzzLimits)
	if err != nil {
		t.Fatalf("%v\n%s", err, rows.Bytes())
	}
	if back.Hash() != p.Hash() {
		t.Fatalf("another hash after CSV:\n%s", rows.Bytes())
	}
}

func FuzzParse(f *testing.F) {
	for _, src := range []string{
		street,
		"\ufeffprogram 1 # c\r\n\r\n# one\r\nrest 2\r\n\r\n\r\nend\r\n",
		"program 1\nrepeat 3\n# c\n\nrepeat 2 #x\ntap p2:a+p1:b\n\nend#y\n\nend\nmark ö-x\n",
		"program 1\nrepeat 99999999999999999999\nrepeat 10\nrest 1\nend\nend",
		"program 1\nhold a++b+a+q for -1\nmark 2\nrepeat\nend\nend\nhold for\n",
		"program 2\nrest 1\x07\n", "rest 1\xff", "program 1\nrest\x00 1",
	} {
		f.Add([]byte(src))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, err := program.Parse("f", src, ntsc, fuzzLimits)
		if err != nil {
			checkProblems(t, err)
			return
		}
		checkProgram(t, p)
	})
}

func FuzzImportCSV(f *testing.F) {
	for _, src := range []string{
		"from,to,buttons\r\n0,4,right+b\r\n5,9,\r\n",
		"\ufeff\"from\",\"to\",\"buttons\"\n\"0\",\"4\",\"right + p2:b\"\n\n8,8,\"\"\n",
		"from,to,buttons\n0,1,\"a\n\"\n2,\"\"\"\",b\"\n9,2,q\n1,1,a+a",
		"0,4,a\n", "from,to,buttons\n0,99999999999999999999,a\n",
	} {
		f.Add([]byte(src))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, err := program.ImportCSV("f", src, ntsc, fuzzLimits)
		if err != nil {
			checkProblems(t, err)
			return
		}
		checkProgram(t, p)
	})
}
