package bundle_test

import (
	"archive/tar"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing/fstest"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/bundle"
)

// contents are files of sizes about the block's, one with a divided name.
func contents() map[string]string {
	return map[string]string{
		"certificate.json":             "{}",
		"claim/a b.claim.yaml":         "version: 1\n",
		"claim/empty":                  "",
		"runs/b-1/run-001/run.json":    strings.Repeat("x", 511),
		"runs/b-1/run-001/reads.csv":   strings.Repeat("y", 512),
		"runs/b-1/run-001/trace.lpt":   strings.Repeat("\x00", 513),
		"runs/b-1.json":                strings.Repeat("z", 5000),
		strings.Repeat("d/", 70) + "e": "deep",
	}
}

func files(contents map[string]string) []bundle.File {
	var out []bundle.File
	for name, text := range contents { // in the random order of maps
		out = append(out, bundle.Bytes(name, []byte(text)))
	}
	return out
}

func pack(fs []bundle.File) []byte {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(bundle.Write(&b, fs)).To(Succeed())
	return b.Bytes()
}

func read(src []byte) (*bundle.Bundle, error) {
	return bundle.Read(bytes.NewReader(src), int64(len(src)), bundle.DefaultLimits)
}

var _ = Describe("a bundle", func() {
	It("is the same bytes whatever the order, and comes back", func() {
		src := pack(files(contents()))
		for range 20 {
			Expect(pack(files(contents()))).To(Equal(src))
		}
		b, err := read(src)
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Names()).To(HaveLen(len(contents())))
		for name, text := range contents() {
			Expect(b.Has(name)).To(BeTrue())
			Expect(b.Size(name)).To(BeEquivalentTo(len(text)))
			Expect(b.ReadFile(name, 5000)).To(BeEquivalentTo(text))
			sum := sha256.Sum256([]byte(text))
			Expect(b.Sum(name)).To(Equal(hex.EncodeToString(sum[:])))
			f, err := b.Open(name)
			Expect(err).NotTo(HaveOccurred())
			Expect(io.ReadAll(f)).To(BeEquivalentTo(text))
		}
		Expect(pack(b.Files())).To(Equal(src))
		_, err = b.ReadFile("runs/b-1.json", 4999)
		Expect(err).To(MatchError(bundle.ErrLimit))
		for _, err := range []error{second(b.Open("none")), second(b.Sum("none")), second(b.ReadFile("none", 1))} {
			Expect(err).To(MatchError(fs.ErrNotExist))
		}
		Expect(b.Has("none")).To(BeFalse())
	})

	It("may have no files", func() {
		b, err := read(pack(nil))
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Names()).To(BeEmpty())
	})

	// Another reader, and another writer of the same format.
	It("is read by archive/tar, and is what archive/tar writes", func() {
		src := pack(files(contents()))
		var again bytes.Buffer
		w := tar.NewWriter(&again)
		r := tar.NewReader(bytes.NewReader(src))
		n := 0
		for {
			h, err := r.Next()
			if err == io.EOF {
				break
			}
			Expect(err).NotTo(HaveOccurred())
			text, err := io.ReadAll(r)
			Expect(err).NotTo(HaveOccurred())
			Expect(string(text)).To(Equal(contents()[h.Name]), h.Name)
			Expect(w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: h.Name, Size: h.Size, Mode: 0o644, ModTime: h.ModTime, Format: tar.FormatUSTAR})).To(Succeed())
			Expect(w.Write(text)).To(Equal(len(text)))
			n++
		}
		Expect(n).To(Equal(len(contents())))
		Expect(w.Close()).To(Succeed())
		Expect(bytes.Equal(again.Bytes(), src)).To(BeTrue())
	})

	It("is read by the system's tar, and is what GNU tar writes", func() {
		program, err := exec.LookPath("tar")
		if err != nil {
			Skip("no tar")
		}
		dir := GinkgoT().TempDir()
		all := contents()
		src := pack(files(all))
		Expect(os.WriteFile(filepath.Join(dir, "b.tar"), src, 0o644)).To(Succeed())
		Expect(os.Mkdir(filepath.Join(dir, "x"), 0o755)).To(Succeed())
		out, err := exec.Command(program, "-xf", filepath.Join(dir, "b.tar"), "-C", filepath.Join(dir, "x")).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		for name, text := range all {
			Expect(os.ReadFile(filepath.Join(dir, "x", name))).To(BeEquivalentTo(text))
		}
		if v, _ := exec.Command(program, "--version").Output(); !bytes.Contains(v, []byte("GNU tar")) {
			Skip("not GNU tar, so only its reading was tried")
		}
		b, err := read(src)
		Expect(err).NotTo(HaveOccurred())
		args := []string{"--format=ustar", "-b1", "--mtime=@0", "--owner=0", "--group=0", "--numeric-owner", "--mode=0644", "-C", filepath.Join(dir, "x"), "-cf", "-"}
		gnu, err := exec.Command(program, append(args, b.Names()...)...).Output()
		Expect(err).NotTo(HaveOccurred())
		Expect(bytes.Equal(gnu, src)).To(BeTrue())
	})

	It("is packed from a folder and unpacked to one", func() {
		tree := fstest.MapFS{}
		for name, text := range contents() {
			tree[name] = &fstest.MapFile{Data: []byte(text)}
		}
		from, err := bundle.Folder(tree, "in/")
		Expect(err).NotTo(HaveOccurred())
		b, err := read(pack(from))
		Expect(err).NotTo(HaveOccurred())
		dir := filepath.Join(GinkgoT().TempDir(), "to")
		Expect(b.Extract(dir, "in/")).To(Succeed())
		back, err := bundle.Folder(os.DirFS(dir), "in/")
		Expect(err).NotTo(HaveOccurred())
		Expect(pack(back)).To(Equal(pack(from)))
		Expect(b.Extract(dir, "in/")).To(MatchError(fs.ErrExist))
		part := filepath.Join(GinkgoT().TempDir(), "part")
		Expect(b.Extract(part, "in/runs")).To(Succeed())
		Expect(filepath.Join(part, "b-1.json")).To(BeARegularFile())
		Expect(filepath.Join(part, "claim")).NotTo(BeADirectory())

		f, err := bundle.OnDisk("x", filepath.Join(part, "b-1.json"))
		Expect(err).NotTo(HaveOccurred())
		Expect(f.Size).To(BeEquivalentTo(5000))
		Expect(os.Symlink("b-1.json", filepath.Join(part, "link"))).To(Succeed())
		_, err = bundle.OnDisk("x", filepath.Join(part, "link"))
		Expect(err).To(MatchError(ContainSubstring("not a regular file")))
		_, err = bundle.Folder(os.DirFS(part), "")
		Expect(err).To(MatchError(ContainSubstring("not a regular file")))
	})

	It("is not unpacked through a link out of the folder", func() {
		b, err := read(pack([]bundle.File{bundle.Bytes("a/b", []byte("x"))}))
		Expect(err).NotTo(HaveOccurred())
		dir, out := GinkgoT().TempDir(), GinkgoT().TempDir()
		Expect(os.Symlink(out, filepath.Join(dir, "a"))).To(Succeed())
		Expect(b.Extract(dir, "")).NotTo(Succeed())
		Expect(os.ReadDir(out)).To(BeEmpty())
	})

	It("is read from a file, and from nothing else", func() {
		path := filepath.Join(GinkgoT().TempDir(), "x.bundle")
		Expect(os.WriteFile(path, pack(files(contents())), 0o644)).To(Succeed())
		b, err := bundle.OpenFile(path, bundle.DefaultLimits)
		Expect(err).NotTo(HaveOccurred())
		Expect(b.ReadFile("certificate.json", 10)).To(BeEquivalentTo("{}"))
		Expect(b.Close()).To(Succeed())
		_, err = bundle.OpenFile(filepath.Dir(path), bundle.DefaultLimits)
		Expect(err).To(MatchError(ContainSubstring("not a regular file")))
		Expect(os.Truncate(path, 1000)).To(Succeed())
		_, err = bundle.OpenFile(path, bundle.DefaultLimits)
		Expect(err).To(MatchError(bundle.ErrForm))
	})

	It("is not written of a file that changes meanwhile", func() {
		for _, text := range []string{"four", "fourfive", ""} {
			f := bundle.Bytes("a", []byte("fours"))
			f.Open = func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(text)), nil }
			Expect(bundle.Write(io.Discard, []bundle.File{f})).To(MatchError(ContainSubstring("no longer 5 bytes")))
		}
		broken := errors.New("broken")
		f := bundle.File{Name: "a", Size: 1, Open: func() (io.ReadCloser, error) { return nil, broken }}
		Expect(bundle.Write(io.Discard, []bundle.File{f})).To(MatchError(broken))
	})
})

func second[T any](_ T, err error) error { return err }

var _ = Describe("any other byte than contents", func() {
	It("is found when it is changed", func() {
		src := pack(files(contents()))
		b, err := read(src)
		Expect(err).NotTo(HaveOccurred())
		inside := make([]bool, len(src))
		at := 0
		for _, name := range b.Names() {
			for i := range int(b.Size(name)) {
				inside[at+512+i] = true
			}
			at += 512 + (int(b.Size(name))+511)/512*512
		}
		for i := range src {
			for _, bit := range []byte{1, 1 << (i % 8), 0x80} {
				src[i] ^= bit
				_, err := read(src)
				if inside[i] {
					Expect(err).NotTo(HaveOccurred())
				} else {
					Expect(err).To(Or(MatchError(bundle.ErrForm), MatchError(bundle.ErrLimit)), "byte %d", i)
				}
				src[i] ^= bit
			}
		}
	})

	It("is found when it is put in, left out, or moved", func() {
		src := pack(files(contents()))
		r := rand.New(rand.NewPCG(7, 7))
		for range 2000 {
			i, j := r.IntN(len(src)), r.IntN(len(src))
			n := 1 + r.IntN(600)
			var hurt []byte
			switch r.IntN(4) {
			case 0:
				hurt = append(append(bytes.Clone(src[:i]), make([]byte, n)...), src[i:]...)
			case 1:
				hurt = append(bytes.Clone(src[:i]), src[min(i+n, len(src)):]...)
			case 2:
				hurt = src[:i]
			case 3: // two blocks change places
				hurt = bytes.Clone(src)
				i, j = i/512*512, j/512*512
				copy(hurt[i:i+512], src[j:j+512])
				copy(hurt[j:j+512], src[i:i+512])
			}
			b, err := read(hurt)
			if err != nil {
				Expect(err).To(Or(MatchError(bundle.ErrForm), MatchError(bundle.ErrLimit)))
				continue
			}
			// Contents alone may have changed: it is the one archive of them.
			Expect(pack(b.Files())).To(Equal(hurt))
		}
	})

	It("is found when it follows the end", func() {
		src := pack(files(contents()))
		for _, n := range []int{1, 511, 512, 8704} { // other programs fill up to 10240
			_, err := read(append(bytes.Clone(src), make([]byte, n)...))
			Expect(err).To(MatchError(MatchRegexp("byte %d: %d bytes follow its end mark", len(src), n)))
		}
	})
})

// header changes the header of the only file, with a right check sum.
func header(change func(h []byte)) []byte {
	src := pack([]bundle.File{bundle.Bytes("name", []byte("text"))})
	change(src[:512])
	copy(src[148:156], "        ")
	sum := 0
	for _, c := range src[:512] {
		sum += int(c)
	}
	copy(src[148:], fmt.Sprintf("%06o\x00 ", sum))
	return src
}

var _ = DescribeTable("a header is refused that", func(change func(h []byte), said string) {
	_, err := read(header(change))
	Expect(err).To(MatchError(bundle.ErrForm))
	Expect(err).To(MatchError(ContainSubstring(said)))
},
	Entry("has another mode", func(h []byte) { copy(h[100:], "0000755") }, "mode is"),
	Entry("spells the mode otherwise", func(h []byte) { copy(h[100:], " 000644") }, "byte 100: name: header is not the canonical one: mode is"),
	Entry("has an owner", func(h []byte) { copy(h[108:], "0001750") }, "owner is"),
	Entry("has an owner's name", func(h []byte) { copy(h[265:], "me") }, "owner's name is"),
	Entry("has a time", func(h []byte) { copy(h[136:], "14000000000") }, "time is"),
	Entry("is a folder", func(h []byte) { h[156] = '5' }, "kind is"),
	Entry("is a symbolic link", func(h []byte) { h[156] = '2'; copy(h[157:], "/etc") }, "kind is"),
	Entry("is a device", func(h []byte) { h[156] = '3' }, "kind is"),
	Entry("is an extended header of pax", func(h []byte) { h[156] = 'x' }, "kind is"),
	Entry("is a sparse file of GNU tar", func(h []byte) { h[156] = 'S' }, "kind is"),
	Entry("is of the old kind", func(h []byte) { h[156] = 0 }, "kind is"),
	Entry("is of GNU tar", func(h []byte) { copy(h[257:], "ustar  \x00") }, "magic is"),
	Entry("has a size in base 256", func(h []byte) { copy(h[124:136], "\x80\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x04") }, "size field"),
	Entry("has a negative size", func(h []byte) { copy(h[124:], "-0000000004") }, "size field"),
	Entry("spells the size otherwise", func(h []byte) { copy(h[124:], "+0000000004") }, "size is"),
	Entry("has no size", func(h []byte) { clear(h[124:136]) }, "size field"),
	Entry("has something behind its name", func(h []byte) { h[50] = 'x' }, "name is"),
	Entry("has a prefix where none is due", func(h []byte) { copy(h[345:], "dir") }, "name is"),
	Entry("has an absolute name", func(h []byte) { copy(h, "/tmp\x00") }, "not a plain relative path"),
	Entry("has a name that leads out", func(h []byte) { copy(h, "../x\x00") }, "not a plain relative path"),
	Entry("has a prefix that leads out", func(h []byte) { copy(h[345:], "..") }, "not a plain relative path"),
	Entry("has a control character in its name", func(h []byte) { copy(h, "n\x1bme") }, "byte 0x1b is not allowed"),
	Entry("has something after the prefix", func(h []byte) { h[511] = 1 }, "rest is"),
)

var _ = Describe("limits", func() {
	It("are held at N and N+1", func() {
		src := pack(files(contents()))
		n, size := len(contents()), int64(len(src))
		at := func(l bundle.Limits) error {
			return second(bundle.Read(bytes.NewReader(src), size, l))
		}
		Expect(at(bundle.Limits{Files: n, Bytes: size})).To(Succeed())
		Expect(at(bundle.Limits{Files: n - 1, Bytes: size})).To(MatchError(bundle.ErrLimit))
		Expect(at(bundle.Limits{Files: n, Bytes: size - 1})).To(MatchError(bundle.ErrLimit))
	})
	It("are those of writing too", func() {
		var many []bundle.File
		for i := range bundle.DefaultLimits.Files {
			many = append(many, bundle.Bytes(fmt.Sprint("f", i), nil))
		}
		src := pack(many)
		Expect(second(read(src))).To(Succeed())
		Expect(bundle.Write(io.Discard, append(many, bundle.Bytes("g", nil)))).To(MatchError(bundle.ErrLimit))
		large := bundle.File{Name: "a", Size: bundle.DefaultLimits.Bytes - 1536 + 1}
		Expect(bundle.Write(io.Discard, []bundle.File{large})).To(MatchError(bundle.ErrLimit))
	})
	It("are held before memory is used, when sizes lie", func() {
		_, err := read(header(func(h []byte) { copy(h[124:], "77777777777") })) // 8 GiB
		Expect(err).To(MatchError(bundle.ErrLimit))
		_, err = read(header(func(h []byte) { copy(h[124:], "10000000000") })) // 1 GiB
		Expect(err).To(MatchError(bundle.ErrForm))
		Expect(err).To(MatchError(ContainSubstring("the archive ends before")))
	})
})

var _ = Describe("names", func() {
	DescribeTable("are refused", func(name string) {
		Expect(bundle.CheckName(name)).NotTo(Succeed())
		Expect(bundle.Write(io.Discard, []bundle.File{bundle.Bytes(name, nil)})).NotTo(Succeed())
	},
		Entry(nil, ""), Entry(nil, "."), Entry(nil, ".."), Entry(nil, "/a"), Entry(nil, "a/"), Entry(nil, "a//b"), Entry(nil, "a/./b"),
		Entry(nil, "a/../b"), Entry(nil, `a\b`), Entry(nil, "c:a"), Entry(nil, "a*"), Entry(nil, "a\nb"), Entry(nil, "a\x00"), Entry(nil, "\u00e4"),
		Entry(nil, "a /b"), Entry(nil, " a"), Entry(nil, "a."), Entry(nil, "a./b"), Entry(nil, "\x7f"),
		Entry("101 bytes without a slash", strings.Repeat("x", 101)),
		Entry("101 bytes behind the last slash", "a/"+strings.Repeat("x", 101)),
		Entry("156 bytes before the only slash", strings.Repeat("x", 156)+"/a"),
		Entry("257 bytes", strings.Repeat("x", 156)+"/"+strings.Repeat("x", 100)),
	)
	DescribeTable("are taken", func(name string) {
		Expect(bundle.CheckName(name)).To(Succeed())
		b, err := read(pack([]bundle.File{bundle.Bytes(name, []byte("x"))}))
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Names()).To(Equal([]string{name}))
	},
		Entry(nil, ".hidden"), Entry(nil, "a b/c-d_e+f=g,h@(i)~"), Entry(nil, "..a"), Entry("100 bytes", strings.Repeat("x", 100)),
		Entry("256 bytes", strings.Repeat("x", 155)+"/"+strings.Repeat("y", 100)), Entry("a long folder", strings.Repeat("x", 155)+"/a"),
	)
	DescribeTable("cannot stand beside one another", func(a, b, said string) {
		fs := []bundle.File{bundle.Bytes(a, nil), bundle.Bytes(b, nil)}
		Expect(bundle.Write(io.Discard, fs)).To(MatchError(ContainSubstring(said)))
		// In an archive of somebody else, each name being right by itself.
		one, two := pack(fs[:1]), pack(fs[1:])
		_, err := read(append(bytes.Clone(one[:512]), two...))
		Expect(err).To(MatchError(bundle.ErrForm))
	},
		Entry("the same", "a", "a", "the same"),
		Entry("letter case", "A", "a", "letter case"),
		Entry("letter case of folders", "A/b", "a/c", "letter case"),
		Entry("a file and a folder", "a", "a/b", "that of a folder"),
		Entry("a file and a folder, letter case", "A", "a/b", "that of a folder"),
		Entry("a folder and a file, letter case", "A/b", "a", "that of a folder"),
		Entry("a folder inside", "a/b/c/d", "a/b", "that of a folder"),
	)
	It("are in the order of their bytes", func() {
		one, two := pack([]bundle.File{bundle.Bytes("a", nil)}), pack([]bundle.File{bundle.Bytes("b", nil)})
		Expect(second(read(append(bytes.Clone(one[:512]), two...)))).To(Succeed())
		Expect(second(read(append(bytes.Clone(two[:512]), one...)))).To(MatchError(ContainSubstring(`"a" comes after "b"`)))
	})
})
