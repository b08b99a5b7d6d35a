package baseline_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/baseline"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/harness/record"
	"latchproof/specs"
)

var bg = context.Background()

// spec writes a spec with a program and a template and loads it.
func spec(name string) *specs.Spec {
	GinkgoHelper()
	dir := GinkgoT().TempDir()
	Expect(os.WriteFile(filepath.Join(dir, "p.prog"), []byte("program 1\nrest 30\ntap a\n"), 0o666)).To(Succeed())
	path := filepath.Join(dir, "x.spec.yaml")
	text := fmt.Sprintf("version: 1\nspec: %s\nprogram: p.prog\nconsole: ntsc-8bit\nrepeats: 2\n", name)
	Expect(os.WriteFile(path, []byte(text), 0o666)).To(Succeed())
	s, err := specs.Load(path, checks.All)
	Expect(err).NotTo(HaveOccurred())
	return s
}

// maker makes sealed runs with invented files.
type maker struct {
	bench, serial string
	state         clock.State
	verdict       string
	partial       bool
	program       string // its hash; that of the spec when empty
	source        []byte // of the spec; its own when nil
	noTrace       bool
}

func (k maker) run(s *specs.Spec, dir string) string {
	GinkgoHelper()
	if k.state == "" {
		k.state = clock.Measured
	}
	if k.program == "" {
		k.program = s.Program.Hash()
	}
	if k.source == nil {
		k.source = s.Source
	}
	w, err := record.Create(dir, record.Meta{
		Spec: record.SpecInfo{Name: s.Name, File: s.File}, Program: record.ProgramInfo{File: "p.prog", Hash: k.program, Reads: s.Program.Reads()},
		Console: record.FromProfile(s.Console), Start: "reset", Repeat: 1, Bench: json.RawMessage(`{"name": "` + k.bench + `"}`),
		Started: time.Now(),
	}, k.source, []byte("program 1\n"))
	Expect(err).NotTo(HaveOccurred())
	Expect(w.Amend(func(m *record.Meta) {
		m.Board = record.FromIdentity(feeder.Identity{Serial: k.serial, Firmware: "1.0"})
	})).To(Succeed())
	for i := range 40 {
		Expect(w.AppendLatch(feeder.Latch{Index: int64(i), Micros: int64(i) * 16639, Clocks: 8})).To(Succeed())
	}
	put := func(name, text string) {
		Expect(w.WriteFile(name, func(out io.Writer) error { _, err := io.WriteString(out, text); return err })).To(Succeed())
	}
	put(record.CaptureFile, "video of "+dir)
	if !k.noTrace {
		put(record.TraceFile, "trace")
	}
	if k.partial {
		Expect(w.Abort("after the last", "the cable was pulled")).To(Succeed())
		return dir
	}
	var checkpoints []map[string]string
	if k.verdict != "" {
		checkpoints = append(checkpoints, map[string]string{"name": "gate", "verdict": k.verdict})
	}
	Expect(w.SetVerdicts(map[string]any{"checkpoints": checkpoints})).To(Succeed())
	state, err := json.Marshal(map[string]string{"state": string(k.state), "why": "it is told to be"})
	Expect(err).NotTo(HaveOccurred())
	Expect(w.Seal(record.Result{Ended: time.Now(), Clock: state})).To(Succeed())
	return dir
}

// runs makes n runs alike.
func (k maker) runs(s *specs.Spec, n int) []string {
	GinkgoHelper()
	dir := GinkgoT().TempDir()
	var out []string
	for i := range n {
		out = append(out, k.run(s, filepath.Join(dir, fmt.Sprintf("run-%03d", i+1))))
	}
	return out
}

var options = baseline.AcceptOptions{Now: time.Date(2026, 4, 12, 20, 15, 1, 5, time.UTC), Versions: map[string]string{"latchproof": "test"}}

// accept makes a baseline of two runs of each of two specs.
func accept() (dir string, m baseline.Meta) {
	GinkgoHelper()
	dir = filepath.Join(GinkgoT().TempDir(), "base")
	a, b := spec("walk"), spec("a b/c")
	m, err := baseline.Accept(bg, dir, []baseline.Input{{Spec: a, Runs: maker{}.runs(a, 2)}, {Spec: b, Runs: maker{}.runs(b, 2)}}, options)
	Expect(err).NotTo(HaveOccurred())
	return dir, m
}

var _ = Describe("a baseline on disk", func() {
	It("holds the specs with their files and the runs, with the reference's video", func() {
		dir, m := accept()
		b, err := baseline.Open(bg, dir)
		Expect(err).NotTo(HaveOccurred())
		m.Self = b.Meta.Self
		Expect(json.RawMessage(m.Bench)).To(MatchJSON(b.Meta.Bench))
		m.Bench = b.Meta.Bench
		Expect(b.Meta).To(Equal(m))
		Expect(m.Specs[1].Folder).To(Equal("a-b-c"))
		Expect(m.Board.Firmware).To(Equal("1.0"))
		for _, s := range m.Specs {
			loaded, err := specs.Load(b.SpecFile(s), checks.All)
			Expect(err).NotTo(HaveOccurred())
			Expect(loaded.Program.Hash()).To(Equal(s.Program))
			for i, r := range b.Runs(s) {
				run, err := record.Open(r)
				Expect(err).NotTo(HaveOccurred())
				Expect(run.Has(record.CaptureFile)).To(Equal(i == 0))
				Expect(run.Has(record.TraceFile)).To(BeTrue())
			}
		}
		// Nothing else lies beside it.
		entries, err := os.ReadDir(filepath.Dir(dir))
		Expect(err).NotTo(HaveOccurred())
		Expect(entries).To(HaveLen(1))
	})

	It("leaves the runs that it was made of as they were, and can keep every video", func() {
		s := spec("walk")
		runs := maker{}.runs(s, 2)
		o := options
		dir := filepath.Join(GinkgoT().TempDir(), "deep", "base")
		_, err := baseline.Accept(bg, dir, []baseline.Input{{Spec: s, Runs: runs}}, o)
		Expect(err).NotTo(HaveOccurred())
		for _, r := range runs {
			Expect(record.Verify(r)).To(Succeed())
			Expect(filepath.Join(r, record.CaptureFile)).To(BeARegularFile())
		}
		o.Replace, o.Videos = true, true
		_, err = baseline.Accept(bg, dir, []baseline.Input{{Spec: s, Runs: runs}}, o)
		Expect(err).NotTo(HaveOccurred())
		Expect(filepath.Join(dir, "runs", "walk", "run-002", record.CaptureFile)).To(BeARegularFile())
		_, err = baseline.Open(bg, dir)
		Expect(err).NotTo(HaveOccurred())
	})

	It("is never overwritten unless that is asked for, and nothing else is", func() {
		dir, _ := accept()
		s := spec("walk")
		in := []baseline.Input{{Spec: s, Runs: maker{}.runs(s, 2)}}
		_, err := baseline.Accept(bg, dir, in, options)
		Expect(err).To(MatchError(baseline.ErrExists))
		o := options
		o.Replace = true
		other := GinkgoT().TempDir()
		Expect(os.WriteFile(filepath.Join(other, "letter.txt"), []byte("dear"), 0o666)).To(Succeed())
		_, err = baseline.Accept(bg, other, in, o)
		Expect(err).To(MatchError(baseline.ErrNotBaseline))
		Expect(filepath.Join(other, "letter.txt")).To(BeARegularFile())
		_, err = baseline.Accept(bg, dir, in, o)
		Expect(err).NotTo(HaveOccurred())
		b, err := baseline.Open(bg, dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Meta.Specs).To(HaveLen(1))
		entries, err := os.ReadDir(filepath.Dir(dir))
		Expect(err).NotTo(HaveOccurred())
		Expect(entries).To(HaveLen(1))
	})

	It("is swapped by renames where the file system cannot exchange", func() {
		dir := GinkgoT().TempDir()
		a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
		Expect(os.Mkdir(a, 0o777)).To(Succeed())
		Expect(os.MkdirAll(filepath.Join(b, "old"), 0o777)).To(Succeed())
		Expect(baseline.SwapSlowly(a, b)).To(Succeed())
		Expect(filepath.Join(a, "old")).To(BeADirectory())
		Expect(filepath.Join(b, "old")).NotTo(BeAnExistingFile())
	})

	DescribeTable("what no baseline is made of", func(says string, make func(s *specs.Spec) []string) {
		s := spec("walk")
		dir := filepath.Join(GinkgoT().TempDir(), "base")
		_, err := baseline.Accept(bg, dir, []baseline.Input{{Spec: s, Runs: make(s)}}, options)
		Expect(err).To(MatchError(baseline.ErrUnfit))
		Expect(err).To(MatchError(ContainSubstring(says)))
		Expect(dir).NotTo(BeAnExistingFile())
		entries, err := os.ReadDir(filepath.Dir(dir))
		Expect(err).NotTo(HaveOccurred())
		Expect(entries).To(BeEmpty())
	},
		Entry("a single run", "1 runs; 2 to 10000 are needed", func(s *specs.Spec) []string { return maker{}.runs(s, 1) }),
		Entry("a partial run", "run is partial", func(s *specs.Spec) []string {
			return append(maker{}.runs(s, 2), maker{partial: true}.runs(s, 1)...)
		}),
		Entry("a damaged run", "capture.mkv: hash differs", func(s *specs.Spec) []string {
			runs := maker{}.runs(s, 2)
			flip(filepath.Join(runs[1], record.CaptureFile))
			return runs
		}),
		Entry("an assumed clock", "is assumed", func(s *specs.Spec) []string {
			return append(maker{}.runs(s, 1), maker{state: clock.Assumed}.runs(s, 1)...)
		}),
		Entry("a clock that is not trusted", "not trusted", func(s *specs.Spec) []string { return maker{state: clock.Untrusted}.runs(s, 2) }),
		Entry("nothing captured", "no trace", func(s *specs.Spec) []string { return maker{noTrace: true}.runs(s, 2) }),
		Entry("another bench", "different benches", func(s *specs.Spec) []string {
			return append(maker{bench: "a"}.runs(s, 1), maker{bench: "b"}.runs(s, 1)...)
		}),
		Entry("another board", "different feeder boards", func(s *specs.Spec) []string {
			return append(maker{serial: "1"}.runs(s, 1), maker{serial: "2"}.runs(s, 1)...)
		}),
		Entry("another program", "another program", func(s *specs.Spec) []string { return maker{program: "00"}.runs(s, 2) }),
		Entry("another text", "another text", func(s *specs.Spec) []string { return maker{source: []byte("version: 1\n")}.runs(s, 2) }),
		Entry("a failed checkpoint", `"gate" failed`, func(s *specs.Spec) []string { return maker{verdict: "fail"}.runs(s, 2) }),
		Entry("an unseen checkpoint", `"gate" is unseen`, func(s *specs.Spec) []string { return maker{verdict: "unseen"}.runs(s, 2) }),
	)

	It("accepts failed checkpoints when it is told to, and notes them", func() {
		s := spec("walk")
		o := options
		o.Anyway = true
		m, err := baseline.Accept(bg, filepath.Join(GinkgoT().TempDir(), "base"), []baseline.Input{{Spec: s, Runs: maker{verdict: "fail"}.runs(s, 2)}}, o)
		Expect(err).NotTo(HaveOccurred())
		Expect(m.Anyway).To(HaveLen(2))
	})

	It("notices a changed byte of any file", func() {
		dir, _ := accept()
		n := 0
		Expect(filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			flip(path)
			_, opened := baseline.Open(bg, dir)
			Expect(opened).To(MatchError(baseline.ErrDamaged), path)
			flip(path)
			n++
			return nil
		})).To(Succeed())
		Expect(n).To(BeNumerically(">", 30))
		_, err := baseline.Open(bg, dir)
		Expect(err).NotTo(HaveOccurred())
	})

	DescribeTable("what is refused", func(says string, spoil func(dir string)) {
		dir, _ := accept()
		spoil(dir)
		_, err := baseline.Open(bg, dir)
		Expect(err).To(MatchError(baseline.ErrDamaged))
		Expect(err).To(MatchError(ContainSubstring(says)))
	},
		Entry("a file too many", "does not belong", func(dir string) { write(dir, "extra") }),
		Entry("a file too many in a spec", "does not belong", func(dir string) { write(dir, "specs/walk/extra") }),
		Entry("a file too many in a run", "was not sealed", func(dir string) { write(dir, "runs/walk/run-001/extra") }),
		Entry("a run too many", "does not belong", func(dir string) { write(dir, "runs/walk/run-009/run.json") }),
		Entry("a missing run", "run.json: missing", func(dir string) { Expect(os.RemoveAll(filepath.Join(dir, "runs/walk/run-002"))).To(Succeed()) }),
		Entry("a missing file", "missing", func(dir string) { Expect(os.Remove(filepath.Join(dir, "specs/walk/p.prog"))).To(Succeed()) }),
		Entry("a link in place of a file", "neither a regular file", func(dir string) { link(dir, "specs/walk/p.prog") }),
		Entry("a link in place of a run's file", "neither a regular file", func(dir string) { link(dir, "runs/walk/run-001/reads.csv") }),
		Entry("a link in place of a folder", "neither a regular file", func(dir string) { link(dir, "runs/walk/run-001") }),
		Entry("a huge file", "more than", func(dir string) {
			Expect(os.Truncate(filepath.Join(dir, "runs/walk/run-002/reads.csv"), 1<<40)).To(Succeed())
		}),
		Entry("a huge program", "no regular file of at most", func(dir string) {
			Expect(os.Truncate(filepath.Join(dir, "specs/walk/p.prog"), 1<<40)).To(Succeed())
		}),
		Entry("a huge description", "no regular file of at most", func(dir string) {
			Expect(os.Truncate(filepath.Join(dir, baseline.FileName), 1<<40)).To(Succeed())
		}),
		Entry("a description that is a link", "no regular file", func(dir string) { link(dir, baseline.FileName) }),
	)

	DescribeTable("descriptions that lead out of the folder", func(change func(*baseline.Meta)) {
		m := sample()
		src, err := baseline.FormatMeta(m)
		Expect(err).NotTo(HaveOccurred())
		_, err = baseline.ParseMeta(src)
		Expect(err).NotTo(HaveOccurred())
		change(&m)
		src, err = baseline.FormatMeta(m)
		Expect(err).NotTo(HaveOccurred())
		_, err = baseline.ParseMeta(src)
		Expect(err).To(MatchError(baseline.ErrDamaged))
	},
		Entry("a spec's folder", func(m *baseline.Meta) { m.Specs[0].Folder = ".." }),
		Entry("a spec's folder in another", func(m *baseline.Meta) { m.Specs[0].Folder = "a/b" }),
		Entry("no folder", func(m *baseline.Meta) { m.Specs[0].Folder = "" }),
		Entry("two specs in one folder", func(m *baseline.Meta) { m.Specs[0].Folder = "B" }),
		Entry("a file", func(m *baseline.Meta) { m.Specs[0].Files["../p.prog"] = record.Sum{} }),
		Entry("an absolute file", func(m *baseline.Meta) { m.Specs[0].Files["/etc/hosts"] = record.Sum{} }),
		Entry("a run", func(m *baseline.Meta) { m.Specs[0].Runs[1].Folder = "../run-001" }),
		Entry("one run twice", func(m *baseline.Meta) { m.Specs[0].Runs[1].Folder = "run-001" }),
		Entry("one run only", func(m *baseline.Meta) { m.Specs[0].Runs = m.Specs[0].Runs[:1] }),
		Entry("another spec file", func(m *baseline.Meta) { m.Specs[0].File = "p.prog" }),
		Entry("no spec", func(m *baseline.Meta) { m.Specs = nil }),
	)

	It("is of a version that is known", func() {
		m := sample()
		m.Format = 2
		src, err := baseline.FormatMeta(m)
		Expect(err).NotTo(HaveOccurred())
		_, err = baseline.ParseMeta(src)
		Expect(err).To(MatchError(baseline.ErrVersion))
		_, err = baseline.Open(bg, GinkgoT().TempDir())
		Expect(err).To(MatchError(baseline.ErrNotBaseline))
	})

	It("gives folders names that are such", func() {
		for name, want := range map[string]string{
			"walk": "walk", "": "spec", ".hidden": "-hidden", "a/../b": "a-..-b", "größe 2": "gr--e-2", strings.Repeat("x", 200): strings.Repeat("x", 80),
		} {
			Expect(baseline.FolderName(name)).To(Equal(want))
		}
	})
})

// sample is a description that is sound.
func sample() baseline.Meta {
	m := baseline.Meta{Format: 1}
	for _, name := range []string{"a", "b"} {
		m.Specs = append(m.Specs, baseline.Spec{
			Name: name, Folder: name, File: "x.yaml", Hash: "x", Files: map[string]record.Sum{"x.yaml": {SHA256: "x"}},
			Runs: []baseline.Run{{Folder: "run-001"}, {Folder: "run-002"}},
		})
	}
	return m
}

func flip(path string) {
	GinkgoHelper()
	src, err := os.ReadFile(path)
	Expect(err).NotTo(HaveOccurred())
	src[len(src)/2] ^= 1
	Expect(os.WriteFile(path, src, 0o666)).To(Succeed())
}

func write(dir, name string) {
	GinkgoHelper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	Expect(os.MkdirAll(filepath.Dir(path), 0o777)).To(Succeed())
	Expect(os.WriteFile(path, []byte("{}"), 0o666)).To(Succeed())
}

// link moves a file away and puts a symbolic link to it in its place.
func link(dir, name string) {
	GinkgoHelper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	away := filepath.Join(GinkgoT().TempDir(), "away")
	Expect(os.Rename(path, away)).To(Succeed())
	Expect(os.Symlink(away, path)).To(Succeed())
}

func FuzzParseMeta(f *testing.F) {
	src, err := baseline.FormatMeta(sample())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(src)
	f.Add([]byte(`{"self": "`))
	f.Fuzz(func(t *testing.T, src []byte) {
		m, err := baseline.ParseMeta(src)
		if err != nil {
			return
		}
		for _, s := range m.Specs {
			for name := range s.Files {
				if !filepath.IsLocal(name) {
					t.Fatalf("file %q", name)
				}
			}
		}
	})
}
