package specs_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs"
)

var _ = Describe("Load", func() {
	var dir string
	// put writes a file below dir and gives its path.
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		Expect(os.MkdirAll(filepath.Dir(path), 0o755)).To(Succeed())
		Expect(os.WriteFile(path, []byte(text), 0o644)).To(Succeed())
		return path
	}
	// load loads a spec; its problems are told relative to dir.
	load := func(text string) (*specs.Spec, []string) {
		s, err := specs.Load(put("a.spec.yaml", text), kinds)
		lines := problemsOf(err)
		for i := range lines {
			lines[i] = strings.ReplaceAll(lines[i], dir+"/", "")
		}
		if err != nil {
			Expect(s).To(BeNil())
		}
		return s, lines
	}
	const prog = "program 1\nrest 60\nmark jump\nhold a for 40\n"
	const profile = `version: 1
console: twice
raster: [128, 96]
rate: 60
buttons: [a, b]
reads_per_frame: 2
`
	BeforeEach(func() {
		dir = GinkgoT().TempDir()
		put("a.prog", prog)
	})

	It("takes files that were read before, and none from the disk", func() {
		given := specs.Given{
			Files:    map[string][]byte{"a.spec.yaml": []byte(whole), "a.prog": []byte("program 1\nrest 70\nmark jump\ntap b\n")},
			Program:  "in/fast.prog",
			MaxReads: 71,
		}
		s, err := specs.LoadGiven("nowhere/a.spec.yaml", given, kinds)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Program.Reads()).To(BeEquivalentTo(71))
		Expect(string(s.ProgramSource)).To(Equal("program 1\nrest 70\nmark jump\ntap b\n"))
		Expect(s.Dir).To(Equal("nowhere"))
		Expect(s.Checkpoints[0].Check.(*lampCheck).env.Folder.Read("a.prog", 5)).Error().To(MatchError(specs.ErrTooBig))

		given.MaxReads = 70
		_, err = specs.LoadGiven("nowhere/a.spec.yaml", given, kinds)
		Expect(problemsOf(err)).To(Equal([]string{"in/fast.prog:4:1: the program is 71 reads long; the limit is 70"}))
		given.Files["a.prog"] = []byte("program 1\nrest 70\nmark jmp\n")
		given.Files["a.spec.yaml"] = []byte(minimal + "checkpoints: [{name: n, at: jump+1, lamp: 1}]\n")
		_, err = specs.LoadGiven("nowhere/a.spec.yaml", given, kinds)
		Expect(err).To(MatchError(ContainSubstring("in/fast.prog; did you mean jmp?")))
		delete(given.Files, "a.prog")
		put("a.prog", prog)
		_, err = specs.LoadGiven(filepath.Join(dir, "a.spec.yaml"), given, kinds)
		Expect(err).To(MatchError(fs.ErrNotExist))
		_, err = specs.LoadGiven(filepath.Join(dir, "b.spec.yaml"), given, kinds)
		Expect(err).To(MatchError(fs.ErrNotExist))
	})

	It("says where the keys stand", func() {
		s, bad := load(whole)
		Expect(bad).To(BeEmpty())
		Expect(s.Pos("spec").Line).To(Equal(2))
		Expect(s.Pos("timing")).To(Equal(specs.Pos{File: s.File, Line: 1, Col: 1, Key: "timing"}))
	})

	It("brings the program, the profile and the checks together", func() {
		s, bad := load(whole)
		Expect(bad).To(BeEmpty())
		Expect(s.Program.Reads()).To(BeEquivalentTo(100))
		Expect(s.Console.Name).To(Equal("ntsc-8bit"))
		Expect(s.Dir).To(Equal(dir))
		check := s.Checkpoints[0].Check.(*lampCheck)
		Expect(check.env.Console.Width).To(Equal(256))
		Expect(check.env.Folder.Dir).To(Equal(dir))
	})

	It("reads a profile file, in a folder too", func() {
		put("bench/twice.yaml", profile)
		s, bad := load(strings.Replace(whole, "ntsc-8bit", "bench/twice.yaml", 1))
		Expect(bad).To(BeEmpty())
		Expect(s.Console.Name).To(Equal("twice"))
		Expect(s.Files()).To(Equal([]string{"a.prog", "bench/twice.yaml", "lamp.png"}))
	})

	It("reports the problems of all files at once", func() {
		put("bad.yaml", profile+"colour: red\n")
		_, bad := load(strings.Replace(whole, "ntsc-8bit", "bad.yaml", 1) + "colour: x\n")
		Expect(bad).To(HaveLen(2))
		Expect(bad[0]).To(Equal("a.spec.yaml:9:1: colour: unknown key; known are about, anchor, checkpoints, console, labels, lockstep, max_reads, program, repeats, spec, start, tail, timeout, version"))
		Expect(bad[1]).To(HavePrefix("bad.yaml:7:1: colour: "))

		put("a.prog", "program 1\nhold q for 3\nrest 0\n")
		_, bad = load(strings.Replace(whole, "lamp: 3", "lamp: 9", 1) + "colour: x\n")
		Expect(bad).To(HaveLen(4))
		Expect(bad[0]).To(Equal("a.spec.yaml:8:11: checkpoints[0].lamp: lamp 9 is broken"))
		Expect(bad[1]).To(HavePrefix("a.spec.yaml:9:1: colour: unknown key"))
		Expect(bad[2]).To(HavePrefix("a.prog:2:6: "))
		Expect(bad[3]).To(HavePrefix("a.prog:3:6: "))
	})

	It("holds the program to max_reads", func() {
		_, bad := load(whole + "max_reads: 100\n")
		Expect(bad).To(BeEmpty())
		_, bad = load(whole + "max_reads: 99\n")
		Expect(bad).To(Equal([]string{"a.prog:4:12: the program is 100 reads long; the limit is 99"}))
	})

	DescribeTable("checks the marks", func(at string, want ...string) {
		_, bad := load(strings.Replace(whole, "at: 62", "at: "+at, 1))
		if len(want) == 0 {
			Expect(bad).To(BeEmpty())
		} else {
			Expect(bad).To(Equal(want))
		}
	},
		Entry(nil, "jump"), Entry(nil, "jump-60"), Entry(nil, "[jump, jump]"), Entry(nil, "[10, jump]"),
		Entry(nil, "jmup+1", "a.spec.yaml:7:9: checkpoints[0].at: no such mark: jmup in a.prog; did you mean jump?"),
		Entry(nil, "lantern", "a.spec.yaml:7:9: checkpoints[0].at: no such mark: lantern in a.prog; its marks: jump"),
		Entry(nil, "[lantern, tower]",
			"a.spec.yaml:7:9: checkpoints[0].at: no such mark: lantern in a.prog; its marks: jump",
			"a.spec.yaml:7:9: checkpoints[0].at: no such mark: tower in a.prog; its marks: jump"),
		Entry(nil, "jump-61", "a.spec.yaml:7:9: checkpoints[0].at: jump-61 is 1 reads before the first read"),
	)

	It("compares the ends of a range of two marks", func() {
		put("a.prog", prog+"mark land\nrest 5\n")
		_, bad := load(strings.Replace(whole, "at: 62", "at: [land, jump+39]", 1))
		Expect(bad).To(Equal([]string{"a.spec.yaml:7:9: checkpoints[0].at: [land, jump+39] ends before it begins: reads 100 to 99"}))
		_, bad = load(strings.Replace(whole, "at: 62", "at: [land, jump+40]", 1))
		Expect(bad).To(BeEmpty())
	})

	DescribeTable("sets the tail", func(at, extra string, lastRead, lastFrame, tail int) {
		s, bad := load(strings.Replace(whole, "at: 62", "at: "+at, 1) + extra)
		Expect(bad).To(BeEmpty())
		Expect(s.LastRead()).To(BeEquivalentTo(lastRead))
		Expect(s.LastFrame()).To(BeEquivalentTo(lastFrame))
		Expect(s.Tail).To(Equal(tail))
	},
		Entry("within the program", "62", "", 62, 62, 60),
		Entry("at its last read", "99", "", 99, 99, 60),
		Entry("one after its last read", "100", "", 100, 100, 61),
		Entry("far after it", "[0, 400]", "", 400, 400, 361),
		Entry("a mark", "jump+340", "", 400, 400, 361),
		Entry("the anchor too", "62", "anchor: {frame: 500, lamp: 1}", 500, 500, 461),
		Entry("as given", "400", "tail: 7", 400, 400, 7),
	)

	It("counts several reads a frame", func() {
		put("twice.yaml", profile)
		text := strings.Replace(whole, "ntsc-8bit", "twice.yaml", 1)
		s, bad := load(text)
		Expect(bad).To(BeEmpty())
		Expect(s.LastRead()).To(BeEquivalentTo(125)) // frames 0 to 62, two reads each
		Expect(s.LastFrame()).To(BeEquivalentTo(62))
		Expect(s.CoverTail()).To(BeEquivalentTo(26))
		Expect(s.Tail).To(Equal(26 + specs.Margin))
		s, bad = load(strings.Replace(text, "at: 62", "at: jump+65", 1))
		Expect(bad).To(BeEmpty())
		Expect(s.LastRead()).To(BeEquivalentTo(125))
	})

	It("refuses a tail with which a read is surely never logged", func() {
		text := strings.Replace(whole, "at: 62", "at: jump+50", 1)
		_, bad := load(text + "tail: 11\n") // the last read is 110
		Expect(bad).To(BeEmpty())
		_, bad = load(text + "tail: 10\n")
		Expect(bad).To(Equal([]string{"a.spec.yaml:7:9: checkpoints[0].at: jump+50 is read 110, which is never logged: the program has 100 reads and the tail 10"}))
	})

	Describe("files that cannot be used", func() {
		program := func(name string) []string {
			_, bad := load(strings.Replace(whole, "a.prog", name, 1))
			return bad
		}

		It("says so at the key that names them", func() {
			Expect(program("b.prog")).To(Equal([]string{"a.spec.yaml:3:10: program: b.prog: no such file or directory"}))
			Expect(os.Mkdir(filepath.Join(dir, "folder"), 0o755)).To(Succeed())
			Expect(program("folder")).To(Equal([]string{"a.spec.yaml:3:10: program: folder: not a regular file"}))
			Expect(syscall.Mkfifo(filepath.Join(dir, "pipe"), 0o644)).To(Succeed())
			Expect(program("pipe")).To(Equal([]string{"a.spec.yaml:3:10: program: pipe: not a regular file"}))
			put("big.prog", prog+strings.Repeat("#", specs.MaxProgramBytes-len(prog)))
			Expect(program("big.prog")).To(BeEmpty())
			put("big.prog", strings.Repeat("#", specs.MaxProgramBytes+1))
			Expect(program("big.prog")).To(Equal([]string{"a.spec.yaml:3:10: program: big.prog: file too big: more than 4194304 bytes"}))
		})

		It("follows symbolic links inside the folder only", func() {
			Expect(os.Symlink("a.prog", filepath.Join(dir, "inside.prog"))).To(Succeed())
			Expect(program("inside.prog")).To(BeEmpty())
			outside := filepath.Join(GinkgoT().TempDir(), "out.prog")
			Expect(os.WriteFile(outside, []byte(prog), 0o644)).To(Succeed())
			Expect(os.Symlink(outside, filepath.Join(dir, "out.prog"))).To(Succeed())
			Expect(program("out.prog")).To(Equal([]string{"a.spec.yaml:3:10: program: out.prog: path escapes from parent"}))
			Expect(os.Symlink(filepath.Dir(outside), filepath.Join(dir, "away"))).To(Succeed())
			Expect(program("away/out.prog")).To(Equal([]string{"a.spec.yaml:3:10: program: away/out.prog: path escapes from parent"}))
			Expect(os.Symlink("loop.prog", filepath.Join(dir, "loop.prog"))).To(Succeed())
			Expect(program("loop.prog")).To(Equal([]string{"a.spec.yaml:3:10: program: loop.prog: too many levels of symbolic links"}))
		})

		It("names the built-in profiles when there is no such console", func() {
			_, bad := load(strings.Replace(whole, "ntsc-8bit", "ntsc", 1))
			Expect(bad).To(Equal([]string{`a.spec.yaml:4:10: console: "ntsc" is neither a built-in profile (ntsc-8bit, pal-8bit) nor a file: no such file or directory`}))
		})

		It("says so for the spec itself", func() {
			_, err := specs.Load(filepath.Join(dir, "none.spec.yaml"), kinds)
			Expect(err).To(MatchError(filepath.Join(dir, "none.spec.yaml") + ":1:1: no such file or directory"))
			Expect(err).To(MatchError(fs.ErrNotExist))
			_, err = specs.Load(dir, kinds)
			Expect(err).To(MatchError(dir + ":1:1: not a regular file"))
			_, err = specs.Load(put("big.spec.yaml", strings.Repeat("#", specs.MaxBytes+1)), kinds)
			Expect(err).To(MatchError(specs.ErrTooBig))
		})
	})
})
