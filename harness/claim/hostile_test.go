package claim_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
)

// bound is what Open takes from the heap at most, bytes (doc.go).
const bound = 256 << 20

// open opens a submission and holds what it costs against the bound. Nothing that
// is refused may be parsed first: the bound is then that of what is looked at.
func open(file string, most uint64) (s *claim.Submission, err error) {
	GinkgoHelper()
	h := newHouse()
	Expect(allocated(func() { s, err = claim.Open(file, h, checks.All) })).To(BeNumerically("<", most), "bytes")
	return s, err
}

// chunk is a chunk of a PNG (W3C PNG, third edition, section 5.3).
func chunk(kind string, data []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, kind...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// bomb is 128 MiB of zero bytes in zlib's form, 130 kB.
var bomb = sync.OnceValue(func() []byte {
	var b bytes.Buffer
	w := zlib.NewWriter(&b)
	for range 128 {
		_, _ = w.Write(make([]byte, 1<<20))
	}
	_ = w.Close()
	return b.Bytes()
})

// png is a PNG of chunks between a header and the end.
func png(w, h uint32, depth, colour byte, chunks ...[]byte) string {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	b := append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", append(head, depth, colour, 0, 0, 0))...)
	for _, c := range chunks {
		b = append(b, c...)
	}
	return string(append(b, chunk("IEND", nil)...))
}

// withChunk puts a chunk into a sound picture after its header.
func withChunk(c []byte) string {
	src := gate(16, 16)
	return src[:33] + string(c) + src[33:]
}

var _ = Describe("a hostile folder", func() {
	refused := func(file string, b box, want ...string) {
		GinkgoHelper()
		_, err := open(file, 4<<20)
		Expect(b.lines(err)).To(Equal(want))
	}

	It("with links, pipes, sockets and devices is refused before anything is opened", func() {
		b, file := newClaim()
		Expect(os.Symlink("/etc/passwd", filepath.Join(string(b), "a.txt"))).To(Succeed())
		Expect(os.Symlink("fast.prog", filepath.Join(string(b), "b.prog"))).To(Succeed())
		Expect(os.Symlink("..", filepath.Join(string(b), "c"))).To(Succeed())
		Expect(syscall.Mkfifo(filepath.Join(string(b), "d"), 0o600)).To(Succeed())
		want := []string{
			"a.txt:1:1: a symbolic link; a submission holds regular files alone",
			"b.prog:1:1: a symbolic link; a submission holds regular files alone",
			"c:1:1: a symbolic link; a submission holds regular files alone",
			"d:1:1: a pipe; a submission holds regular files alone",
		}
		if l, err := net.Listen("unix", filepath.Join(string(b), "e")); err == nil { // not where paths are too long
			defer l.Close()
			want = append(want, "e:1:1: a socket; a submission holds regular files alone")
		}
		if syscall.Mknod(filepath.Join(string(b), "f"), syscall.S_IFCHR|0o600, 1<<8|5) == nil { // /dev/zero; needs root
			want = append(want, "f:1:1: a device; a submission holds regular files alone")
		}
		refused(file, b, want...)
	})

	DescribeTable("whose own files are links is refused", func(name string) {
		b, file := newOwn()
		at := filepath.Join(string(b), name)
		Expect(os.Rename(at, filepath.Join(GinkgoT().TempDir(), "x"))).To(Succeed())
		Expect(os.Symlink("/dev/zero", at)).To(Succeed())
		refused(file, b, name+":1:1: a symbolic link; a submission holds regular files alone")
	}, Entry(nil, "fast.claim.yaml"), Entry(nil, "fast.prog"), Entry(nil, "mine.spec.yaml"), Entry(nil, "gate.png"))

	DescribeTable("with a hostile name in it is refused, and the name shown so that it does nothing", func(name, want string) {
		b, file := newClaim()
		b.put(name, "x")
		_, err := open(file, 4<<20)
		Expect(err).To(HaveOccurred())
		Expect(err.Error()).To(HaveSuffix(": its name " + want))
		Expect(err.Error()).To(MatchRegexp(`^[ -~]+$`))
	},
		Entry("a line break", "a\nb", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("an escape sequence", "\x1b]0;x\a", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a right-to-left override", "gnp.\u202eprog", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a zero width space", "a\u200b.png", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("bytes that are no UTF-8", "a\xff.png", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a backslash", `..\a`, "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a colon", "a.png:x", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("an option", "-rf", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("three dots", "...", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a dot at the end", "a.", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a space at the end", "a ", "holds more than ASCII letters, digits and `_`, with single `-`, `.` and spaces between them"),
		Entry("a device", "con", "is taken for a device by some systems"),
		Entry("a device with an ending", "LPT1.tar.gz", "is taken for a device by some systems"),
		Entry("a device as a folder", "aux/a.png", "is taken for a device by some systems"),
		Entry("a long part", strings.Repeat("a", 61), "has a part of 61 bytes; at most 60 are allowed"),
		Entry("the longest part there can be", strings.Repeat("a", 255), "is 255 bytes long; at most 80 are allowed"),
		Entry("a long path", strings.Repeat("a", 40)+"/"+strings.Repeat("a", 40), "is 81 bytes long; at most 80 are allowed"),
	)

	It("with names at the limits is accepted", func() {
		b, file := newClaim()
		b.put(strings.Repeat("a", 60), "x")
		b.put(strings.Repeat("b", 39)+"/"+strings.Repeat("b", 40), "x")
		b.put(".hidden/.x", "x")
		b.put("console.txt", "x")
		b.put("com10", "x")
		s, err := open(file, 16<<20)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Ignored).To(HaveLen(5))
	})

	It("with names that differ in case alone is refused", func() {
		b, file := newClaim()
		b.put("FAST.prog", progText)
		refused(file, b, "fast.prog:1:1: differs from FAST.prog in upper and lower case alone: one file to some systems")
	})

	It("with as many files as allowed is accepted, and with one more refused", func() {
		b, file := newClaim()
		for i := range claim.MaxEntries - 2 {
			b.put(fmt.Sprintf("f%03d", i), "")
		}
		Expect(open(file, 16<<20)).Error().NotTo(HaveOccurred())
		b.put("more", "")
		refused(file, b, string(b)+":1:1: more than 200 files and folders; a submission is a folder of its own")
	})

	It("with very many files costs no more", func() {
		b, file := newClaim()
		for i := range 5000 {
			b.put(fmt.Sprintf("f%04d", i), "")
		}
		refused(file, b, string(b)+":1:1: more than 200 files and folders; a submission is a folder of its own")
	})

	It("that is too deep is refused", func() {
		b, file := newClaim()
		b.put("a/b/c/x", "")
		Expect(open(file, 16<<20)).Error().NotTo(HaveOccurred())
		b.put("a/b/c/d/x", "")
		refused(file, b, "a/b/c/d:1:1: folders more than 3 deep")
	})

	It("with sparse files that are as large as a disk is refused by their sizes", func() {
		b, file := newClaim()
		Expect(os.Truncate(b.put("big", ""), 1<<40)).To(Succeed())
		refused(file, b, "big:1:1: file too big: more than 4194304 bytes")
		Expect(os.Remove(filepath.Join(string(b), "big"))).To(Succeed())
		for i := range 5 {
			Expect(os.Truncate(b.put(fmt.Sprintf("f%d", i), ""), 4<<20)).To(Succeed())
		}
		refused(file, b, string(b)+":1:1: file too big: more than 16777216 bytes in all files together")
	})

	DescribeTable("with a file of its own too large is refused, and at the limit read", func(name string, most int, want string, fill string) {
		b, file := newOwn()
		at := filepath.Join(string(b), name)
		src, err := os.ReadFile(at)
		Expect(err).NotTo(HaveOccurred())
		pad := strings.Repeat(fill, most/len(fill)+1)[:most-len(src)]
		b.put(name, string(src)+pad)
		Expect(open(file, bound)).Error().NotTo(HaveOccurred())
		b.put(name, string(src)+pad+"\n")
		refused(file, b, want)
	},
		Entry("the claim", "fast.claim.yaml", claim.MaxClaimBytes, "fast.claim.yaml:1:1: file too big: more than 65536 bytes", "#\n"),
		Entry("the program", "fast.prog", claim.MaxProgramBytes, "fast.claim.yaml:4:10: program: fast.prog: file too big: more than 1048576 bytes", "#\n"),
		Entry("the spec", "mine.spec.yaml", claim.MaxSpecBytes, "fast.claim.yaml:5:7: spec: mine.spec.yaml: file too big: more than 262144 bytes", "#\n"),
	)

	It("whose claim is not there, or is a folder, is refused", func() {
		b, _ := newClaim()
		refused(filepath.Join(string(b), "slow.claim.yaml"), b, "slow.claim.yaml:1:1: file does not exist")
		refused(filepath.Join(string(b), "fast.prog"), b, "fast.prog:1:1: a claim file is named *.claim.yaml")
		Expect(os.Mkdir(filepath.Join(string(b), "x.claim.yaml"), 0o777)).To(Succeed())
		_, err := open(filepath.Join(string(b), "x.claim.yaml"), 4<<20)
		Expect(err).To(MatchError(ContainSubstring("0 claim files")))
		_, err = open(filepath.Join(string(b), "nowhere", "x.claim.yaml"), 4<<20)
		Expect(err).To(MatchError(ContainSubstring("no such file or directory")))
	})

	It("that changes while it is read is refused, or read as it was", func() {
		b, file := newClaim()
		prog := filepath.Join(string(b), "fast.prog")
		stop := make(chan struct{})
		done := make(chan struct{})
		go func() {
			defer close(done)
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				default:
				}
				// A pipe, a link to a file outside, and the program, one after another.
				tmp := prog + ".new"
				switch i % 3 {
				case 0:
					_ = syscall.Mkfifo(tmp, 0o600)
				case 1:
					_ = os.Symlink("/etc/passwd", tmp)
				default:
					_ = os.WriteFile(tmp, []byte(progText), 0o600)
				}
				_ = os.Rename(tmp, prog)
			}
		}()
		h := newHouse()
		for until := time.Now().Add(200 * time.Millisecond); time.Now().Before(until); {
			s, err := claim.Open(file, h, checks.All)
			if err == nil {
				Expect(string(s.Contents["fast.prog"])).To(Equal(progText))
			}
		}
		close(stop)
		<-done
	})
})

var _ = Describe("a hostile program", func() {
	DescribeTable("is refused within the bound", func(text string, want string) {
		b, _ := newClaim()
		b.put("fast.prog", text)
		_, err := open(filepath.Join(string(b), "fast.claim.yaml"), bound)
		Expect(b.lines(err)[0]).To(ContainSubstring(want))
	},
		Entry("reads without end", "program 1\nmark jump\n"+strings.Repeat("repeat 9223372036854775807\n", 9)+"rest 9223372036854775807\n"+strings.Repeat("end\n", 9),
			"fast.prog:12:6: the program is at least 9223372036854775807 reads long; the limit is 216000"),
		Entry("one read too many", "program 1\nmark jump\nrest 216001\n", "fast.prog:3:6: the program is 216001 reads long; the limit is 216000"),
		Entry("a nest too deep", "program 1\nmark jump\n"+strings.Repeat("repeat 1\n", 50_000)+"rest 1\n"+strings.Repeat("end\n", 50_000),
			"fast.prog:19:1: repeat nested 17 deep; the limit is 16"),
		Entry("nothing but errors", "program 1\nmark jump\nrest 10\n"+strings.Repeat("x\n", 500_000), `fast.prog:4:1: unknown statement "x"`),
		Entry("a long line", "program 1\nmark jump\nrest 10 # "+strings.Repeat("x", 1000)+"\n", "fast.prog:3:1: a line of more than 1000 bytes"),
		Entry("one line", strings.Repeat("x", 1_000_000), "fast.prog:1:1: a line of more than 1000 bytes"),
		Entry("a button a thousand times", "program 1\nmark jump\nhold "+strings.Repeat("a+", 450)+"a for 1\n", `fast.prog:3:8: button "a" twice`),
		Entry("a mark that is missing", "program 1\nrest 10\n", "walk.spec.yaml:6:22: checkpoints[0].at: "),
		Entry("a button that is not there", "program 1\nmark jump\nhold z for 3\n", `fast.prog:3:6: unknown button "z"; console ntsc-8bit has `),
		Entry("marks that are piled up", "program 1\nmark jump\nmark e\u0301\u0301\u0301\u0301\nrest 9\n", "fast.prog:3:1: mark: more than 3 marks on one letter"),
		Entry("an override in a comment", "program 1\nmark jump\nrest 9 # a\u202eb\n", "fast.prog:3:11: character U+202E, which cannot be seen"),
		Entry("a filler for a mark", "program 1\nmark jump\nmark \u3164\nrest 9\n", "fast.prog:3:6: character U+3164, which cannot be seen"),
		Entry("NUL", "program 1\nmark jump\nrest 9\x00\n", "fast.prog:3:7: binary data: byte 0x00"),
		Entry("UTF-16", "\xff\xfep\x00", "fast.prog:1:1: UTF-16 text; save it as UTF-8"),
		Entry("another format", "\x89PNG\r\n\x1a\n", "fast.prog:1:1: not UTF-8 text: byte 0x89"),
		Entry("nothing", "", `fast.prog:1:1: empty file: the first line must be "program 1"`),
	)

	It("of the most statements is read within the bound", func() {
		b, file := newClaim()
		b.put("fast.prog", "program 1\nmark jump\n"+strings.Repeat("tap a\n", 170_000))
		s, err := open(file, bound)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Program.Reads()).To(BeEquivalentTo(170_000))
	})
})

var _ = Describe("a hostile spec", func() {
	var many = func() string {
		text := strings.Replace(mineText, "checkpoints:\n", "checkpoints:\n  - {name: n0, at: 1, shows: {template: gate}}\n", 1)
		for i := 1; i < 48; i++ {
			text = strings.Replace(text, "timing", fmt.Sprintf("  - {name: n%d, at: 1, shows: {template: gate}}\ntiming", i), 1)
		}
		return text
	}
	refused := func(own string, want string) {
		b, file := newOwn()
		b.put("mine.spec.yaml", own)
		_, err := open(file, bound)
		Expect(b.lines(err)[0]).To(Equal(want))
	}
	DescribeTable("is refused within the bound", func(from, to, want string) {
		Expect(mineText).To(ContainSubstring(from))
		refused(strings.Replace(mineText, from, to, 1), want)
	},
		Entry("another program", "fast.prog", "slow.prog", "mine.spec.yaml:3:10: program: slow.prog is not the program of the claim, fast.prog"),
		Entry("a console of its own", "ntsc-8bit", "mine.yaml", "mine.spec.yaml:4:10: console: mine.yaml is no built-in profile; the spec of a claim names one of ntsc-8bit, pal-8bit"),
		Entry("no timing", "timing: {from: {at: 4}, to: {gone: gate}}\n", "", "mine.spec.yaml:1:1: timing: missing; a claim is a time from one event to another"),
		Entry("a timing at a mark", "at: 4", "at: jump-2", "mine.spec.yaml:8:9: timing.from.at: jump-2 is a mark of the program, which the submitter sets; name a frame or a picture"),
		Entry("a tail for hours", "checkpoints:", "tail: 1728000\ncheckpoints:", "mine.spec.yaml:5:7: tail: the program and its tail are 1728040 reads long; the limit is 216000"),
		Entry("a look for hours", "at: 20", "at: [20, 200000]", "mine.spec.yaml:6:3: checkpoints: judged on 199982 pictures together; the limit is 36000"),
		Entry("a picture above", "template: gate", "template: ../gate", "mine.spec.yaml:7:46: checkpoints[1].shows.template: \"../gate\" can leave the spec's folder; name a file inside it without `..`"),
		Entry("a picture that is not there", "{template: gate}", "{template: gte}", "mine.spec.yaml:7:46: checkpoints[1].shows.template: gte.png: file does not exist"),
		Entry("a name that cannot be seen", "spec: the walk", `spec: "a\u3164"`, `mine.spec.yaml:2:7: spec: "a\u3164" is not a name of visible characters and single spaces`),
		Entry("a name that is piled up", "name: dark", `name: "a\u0301\u0301\u0301\u0301"`, `mine.spec.yaml:6:1: name: more than 3 marks on one letter`),
		Entry("a billion laughs", "console:", "l: &l [x,x]\nm: &m [*l,*l]\nconsole:", "mine.spec.yaml:4:1: l: unknown key; known are about, anchor, checkpoints, console, labels, lockstep, max_reads, points, program, repeats, spec, start, tail, timeout, timing, version"),
	)
	It("of brackets is refused within the bound", func() {
		refused(strings.Repeat("a:\n", 80_000), "mine.spec.yaml:1:1: a: unknown key; known are about, anchor, checkpoints, console, labels, lockstep, max_reads, points, program, repeats, spec, start, tail, timeout, timing, version")
	})
	It("has at most 50 checkpoints", func() {
		b, file := newOwn()
		b.put("mine.spec.yaml", many())
		s, err := open(file, bound)
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Spec.Checkpoints).To(HaveLen(50))
		refused(strings.Replace(many(), "timing", "  - {name: more, at: 1, black: true}\ntiming", 1),
			"mine.spec.yaml:6:3: checkpoints: 51 checkpoints; the spec of a claim has at most 50")
	})

	DescribeTable("with a hostile picture is refused, or reads it, within the bound", func(picture func() string, want string) {
		b, file := newOwn()
		b.put("mine.spec.yaml", many())
		b.put("gate.png", picture())
		_, err := open(file, bound)
		if want == "" {
			Expect(err).NotTo(HaveOccurred())
			return
		}
		Expect(b.lines(err)).To(HaveLen(50))
		Expect(b.lines(err)[0]).To(ContainSubstring(want))
	},
		Entry("8192 x 8192 of 16 bits", func() string { return png(8192, 8192, 16, 6, chunk("IDAT", bomb())) }, "8192x8192 on 256x240"),
		Entry("2^31-1 x 2^31-1", func() string { return png(1<<31-1, 1<<31-1, 8, 0) }, "not a usable PNG picture"),
		Entry("30,000 high", func() string { return png(1, 30000, 8, 0) }, "1x30000 on 256x240"),
		Entry("more pixels than said", func() string { return png(16, 16, 8, 0, chunk("IDAT", bomb())) }, "too much pixel data"),
		Entry("a compressed text of 128 MiB", func() string {
			return withChunk(chunk("zTXt", append([]byte("Comment\x00\x00"), bomb()...)))
		}, ""),
		Entry("a colour profile of 128 MiB", func() string {
			return withChunk(chunk("iCCP", append([]byte("p\x00\x00"), bomb()...)))
		}, ""),
		Entry("a text of 128 MiB in another form", func() string {
			return withChunk(chunk("iTXt", append([]byte("Comment\x00\x01\x00\x00\x00"), bomb()...)))
		}, ""),
		Entry("chunks without end", func() string {
			return withChunk(bytes.Repeat(chunk("teXt", nil), 43_000))
		}, ""),
		Entry("another format", func() string { return "GIF89a\x01\x00\x01\x00" }, "not a PNG file"),
		Entry("not whole", func() string { return gate(16, 16)[:60] }, "not a usable PNG picture"),
	)
})
