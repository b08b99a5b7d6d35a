package soak_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/soak"
	"latchproof/harness/stats"
)

var then = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func header() soak.Header {
	return soak.Header{
		Made: then, Version: "test", Claim: stats.Claim{Below: 0.01, Confidence: 0.95}, Keep: soak.Lean, Policy: soak.Lean.Says(), Most: 10_000,
		Timeout: int64(time.Minute),
		Subject: soak.Subject{
			Spec: soak.File{Name: "first-lamp", Path: "/s/first-lamp.spec.yaml", SHA256: "aa"}, Program: soak.File{Name: "p", Path: "/s/p", SHA256: "bb"},
			ProgramHash: "cc", Files: map[string]string{"p": "bb", "gate.png": "dd"}, Bench: json.RawMessage(`{"name":"b"}`),
		},
	}
}

func clean(n int) soak.Entry {
	return soak.Entry{Repeat: n, Outcome: soak.Clean, At: then, Compared: &soak.Compared{Frames: 600, Until: 599}, Asked: 2}
}

func parted(n int, at int64) soak.Entry {
	e := clean(n)
	e.Outcome, e.Compared.Until = soak.Parted, at
	e.Compared.Parted = &soak.Parting{Frame: at, Since: at, Kind: "picture", A: "repeat 1", Why: "it parts", Score: 3.5}
	return e
}

func reference() soak.Entry {
	e := clean(1)
	e.Outcome, e.Compared.Founder = soak.Reference, true
	return e
}

func left(n int) soak.Entry {
	return soak.Entry{Repeat: n, Outcome: soak.Left, At: then, Why: "the board fell silent", Trouble: true}
}

func stopped(n int) soak.Entry {
	return soak.Entry{Repeat: n, Outcome: soak.Stopped, At: then, Why: "it was interrupted"}
}

var sample = []soak.Entry{reference(), clean(2), stopped(3), stopped(3), clean(3), parted(4, 525), left(5), clean(6)}

// written is a journal with the sample.
func written() (dir string, src []byte) {
	GinkgoHelper()
	dir = GinkgoT().TempDir()
	j, err := soak.Create(dir, header())
	Expect(err).NotTo(HaveOccurred())
	for _, e := range sample {
		Expect(j.Append(e)).To(Succeed())
	}
	Expect(j.Close()).To(Succeed())
	src, err = os.ReadFile(filepath.Join(dir, soak.FileName))
	Expect(err).NotTo(HaveOccurred())
	return dir, src
}

var _ = Describe("a journal", func() {
	It("gives back what was written, and nothing else is left in the folder", func() {
		dir, src := written()
		c, err := soak.ReadFile(dir)
		Expect(err).NotTo(HaveOccurred())
		want := header()
		want.Format = soak.FormatVersion
		Expect(c.Header).To(Equal(want))
		Expect(c.Entries).To(Equal(sample))
		Expect(c.Torn).To(BeFalse())
		Expect(c.Bytes).To(BeEquivalentTo(len(src)))
		files, err := os.ReadDir(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(files).To(HaveLen(1))
	})

	It("has check sums as doc.go says", func() {
		_, src := written()
		before := "00000000"
		for line := range strings.Lines(string(src)) {
			sum, text, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
			Expect(fmt.Sprintf("%08x", crc32.Checksum([]byte(before+" "+text), crc32.MakeTable(crc32.Castagnoli)))).To(Equal(sum))
			before = sum
		}
	})

	It("notices any byte that was changed", func() {
		_, src := written()
		lines := 0
		for at := range src {
			for _, flip := range []byte{1, 0x20, 0x80, src[at], src[at] ^ '\n'} {
				if flip == 0 {
					continue
				}
				bad := bytes.Clone(src)
				bad[at] ^= flip
				_, err := soak.Read("soak.jsonl", bad)
				Expect(err).To(MatchError(soak.ErrDamaged), "byte %d ^ %#x", at, flip)
				var d *soak.DamagedError
				Expect(errors.As(err, &d)).To(BeTrue())
				Expect(d.Line).To(Equal(lines+1), "byte %d ^ %#x: %v", at, flip, err)
			}
			if src[at] == '\n' {
				lines++
			}
		}
	})

	It("notices lines that are missing, doubled or moved", func() {
		_, src := written()
		lines := bytes.SplitAfter(src, []byte("\n"))
		lines = lines[:len(lines)-1]
		for i := range len(lines) - 1 {
			without := bytes.Join(append(append([][]byte{}, lines[:i]...), lines[i+1:]...), nil)
			Expect(second(soak.Read("j", without))).To(MatchError(soak.ErrDamaged), "without line %d", i+1)
			doubled := bytes.Join(append(append([][]byte{}, lines[:i+1]...), lines[i:]...), nil)
			Expect(second(soak.Read("j", doubled))).To(MatchError(soak.ErrDamaged), "with line %d twice", i+1)
			swapped := append([][]byte{}, lines...)
			swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
			Expect(second(soak.Read("j", bytes.Join(swapped, nil)))).To(MatchError(soak.ErrDamaged), "line %d moved", i+1)
		}
	})

	It("leaves out a last line that was cut off anywhere, and goes on from there", func() {
		dir, src := written()
		whole := bytes.LastIndexByte(src[:len(src)-1], '\n') + 1
		for cut := whole; cut < len(src); cut++ {
			c, err := soak.Read("j", src[:cut])
			Expect(err).NotTo(HaveOccurred(), "cut at %d", cut)
			Expect(c.Torn).To(Equal(cut > whole))
			Expect(c.Entries).To(Equal(sample[:len(sample)-1]))
			Expect(c.Bytes).To(BeEquivalentTo(whole))
		}
		path := filepath.Join(dir, soak.FileName)
		for _, tail := range [][]byte{src[whole : len(src)-4], make([]byte, 100), append(make([]byte, 100), src[whole+100:]...)} {
			Expect(os.WriteFile(path, append(bytes.Clone(src[:whole]), tail...), 0o666)).To(Succeed())
			j, c, err := soak.Open(dir)
			Expect(err).NotTo(HaveOccurred())
			Expect(c.Torn).To(BeTrue())
			Expect(j.Append(sample[len(sample)-1])).To(Succeed())
			Expect(j.Close()).To(Succeed())
			Expect(os.ReadFile(path)).To(Equal(src))
		}
	})

	It("is begun once, and written by one at a time", func() {
		dir, _ := written()
		Expect(second(soak.Create(dir, header()))).To(MatchError(soak.ErrExists))
		j, _, err := soak.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		_, _, err = soak.Open(dir)
		Expect(err).To(MatchError(soak.ErrBusy))
		Expect(j.Close()).To(Succeed())
		j, _, err = soak.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(j.Close()).To(Succeed())
		_, _, err = soak.Open(GinkgoT().TempDir())
		Expect(err).To(MatchError(soak.ErrNone))
	})

	It("refuses a later format, and entries that cannot be", func() {
		h := header()
		h.Format = 2
		text, err := json.Marshal(h)
		Expect(err).NotTo(HaveOccurred())
		sum := crc32.Checksum(append([]byte("00000000 "), text...), crc32.MakeTable(crc32.Castagnoli))
		Expect(second(soak.Read("j", fmt.Appendf(nil, "%08x %s\n", sum, text)))).To(MatchError(soak.ErrVersion))
		dir := GinkgoT().TempDir()
		j, err := soak.Create(dir, header())
		Expect(err).NotTo(HaveOccurred())
		defer j.Close()
		bare := clean(2)
		bare.Compared = nil
		still := clean(2)
		still.Outcome = soak.Parted
		odd := clean(2)
		odd.Outcome = "good"
		for _, e := range []soak.Entry{bare, still, odd, {Repeat: 2, Outcome: soak.Left, Failed: []string{"a"}}} {
			Expect(j.Append(e)).NotTo(Succeed())
		}
		Expect(soak.Create(GinkgoT().TempDir(), soak.Header{Keep: "some", Most: 1})).Error().To(HaveOccurred())
	})

	It("brings a member of the tree back as it was", func() {
		e := parted(4, 525)
		m := e.Compared.Member("repeat 4")
		Expect(m.Life.Parted.B).To(Equal("repeat 4"))
		Expect(soak.ComparedOf(m, "")).To(Equal(e.Compared))
	})
})

var _ = DescribeTable("what is another", func(change func(*soak.Subject), says string) {
	now := header().Subject
	now.Files = map[string]string{"p": "bb", "gate.png": "dd"}
	now.Bench = json.RawMessage(`{ "name": "b" }`)
	Expect(header().Same(now)).To(Succeed())
	change(&now)
	err := header().Same(now)
	Expect(err).To(MatchError(soak.ErrOther))
	Expect(err).To(MatchError(HavePrefix(says)))
},
	Entry("spec", func(s *soak.Subject) { s.Spec.SHA256 = "x" }, "the spec /s/first-lamp"),
	Entry("program", func(s *soak.Subject) { s.ProgramHash = "x" }, "the program /s/p"),
	Entry("template", func(s *soak.Subject) { s.Files["gate.png"] = "x" }, "the file gate.png"),
	Entry("one more file", func(s *soak.Subject) { s.Files["x"] = "x" }, "the set of files"),
	Entry("one file less", func(s *soak.Subject) { delete(s.Files, "p") }, "the file p"),
	Entry("bench", func(s *soak.Subject) { s.Bench = json.RawMessage(`{"name":"c"}`) }, `the bench {"name":"c"}`),
	Entry("bench file", func(s *soak.Subject) { s.BenchHash = "x" }, "the bench file"),
)

func second[T any](_ T, err error) error { return err }

// signed puts check sums before the lines of a text.
func signed(src []byte) (out []byte) {
	before := "00000000"
	for line := range bytes.SplitSeq(bytes.TrimSuffix(src, []byte("\n")), []byte("\n")) {
		sum := fmt.Sprintf("%08x", crc32.Checksum(append([]byte(before+" "), line...), crc32.MakeTable(crc32.Castagnoli)))
		out = append(append(append(out, sum+" "...), line...), '\n')
		before = sum
	}
	return out
}

// unsigned takes them away.
func unsigned(src []byte) (out []byte) {
	for line := range bytes.Lines(src) {
		out = append(out, line[min(9, len(line)):]...)
	}
	return out
}

// FuzzRead: whatever the bytes, Read gives what a journal can hold, or says what
// is wrong; and what it gives is read again from what it says was whole.
func FuzzRead(f *testing.F) {
	dir := f.TempDir()
	j, err := soak.Create(dir, header())
	if err != nil {
		f.Fatal(err)
	}
	for _, e := range sample {
		if err := j.Append(e); err != nil {
			f.Fatal(err)
		}
	}
	if err := j.Close(); err != nil {
		f.Fatal(err)
	}
	src, err := os.ReadFile(filepath.Join(dir, soak.FileName))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(src)
	f.Add(src[:len(src)-5])
	f.Add(append(bytes.Clone(src), make([]byte, 20)...))
	f.Add([]byte("00000000 {}\n"))
	f.Add(unsigned(src))
	f.Fuzz(func(t *testing.T, src []byte) {
		if bytes.HasPrefix(src, []byte("{")) {
			src = signed(src) // else hardly any change would come past the check sums
		}
		c, err := soak.Read("j", src)
		if err != nil {
			if !errors.Is(err, soak.ErrDamaged) && !errors.Is(err, soak.ErrVersion) {
				t.Fatalf("an error of no kind: %v", err)
			}
			return
		}
		again, err := soak.Read("j", src[:c.Bytes])
		if err != nil || again.Torn || len(again.Entries) != len(c.Entries) {
			t.Fatalf("what was whole is not: %v", err)
		}
		var tally soak.Tally
		for _, e := range c.Entries {
			tally.Add(e, false)
		}
		if tally.Trials() > int64(len(c.Entries)) {
			t.Fatal("more trials than entries")
		}
	})
}
