package record_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/record"
)

var _ = Describe("dropping files of a run", func() {
	var dir string
	BeforeEach(func() { dir = filepath.Join(GinkgoT().TempDir(), "run") })

	capture := func() string { return filepath.Join(dir, record.CaptureFile) }

	It("keeps the record whole: the hash stays, and who asks for the file is told", func() {
		Expect(play(dir, 100)).To(Succeed())
		was, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		freed, err := record.Drop(dir, "kept by policy lean", record.CaptureFile, "templates/gate.png")
		Expect(err).NotTo(HaveOccurred())
		Expect(freed).To(BeEquivalentTo(100_003))
		Expect(capture()).NotTo(BeAnExistingFile())

		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		zeros := sha256.Sum256(make([]byte, 100_000)) // what play wrote
		Expect(r.Meta.Dropped[record.CaptureFile]).To(Equal(record.Dropped{
			SHA256: hex.EncodeToString(zeros[:]), Bytes: 100_000, Why: "kept by policy lean"}))
		Expect(r.Meta.Files).NotTo(HaveKey(record.CaptureFile))
		Expect(r.Meta.Files).To(HaveLen(len(was.Meta.Files) - 2))
		Expect(r.Has(record.CaptureFile)).To(BeFalse())
		says := dir + ": capture.mkv was dropped: kept by policy lean"
		for _, err := range []error{r.Check(record.CaptureFile), second(record.OpenFiles(dir, record.CaptureFile)), second(r.ReadFile(record.CaptureFile))} {
			Expect(err).To(MatchError(record.ErrDropped))
			Expect(err).NotTo(MatchError(record.ErrDamaged))
			Expect(err).To(MatchError(says))
		}
		Expect(r.Reads()).To(HaveLen(100))

		By("passing over what was dropped")
		before, err := os.ReadFile(filepath.Join(dir, record.RunFile))
		Expect(err).NotTo(HaveOccurred())
		Expect(record.Drop(dir, "again", record.CaptureFile)).To(BeZero())
		Expect(os.ReadFile(filepath.Join(dir, record.RunFile))).To(Equal(before))

		By("still finding damage")
		Expect(os.WriteFile(filepath.Join(dir, record.FramesFile), []byte("x"), 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(MatchError(record.ErrDamaged))
	})

	It("is finished after it was killed between run.json and the file", func() {
		Expect(play(dir, 10)).To(Succeed())
		src, err := os.ReadFile(capture())
		Expect(err).NotTo(HaveOccurred())
		Expect(second(record.Drop(dir, "lean", record.CaptureFile))).To(Succeed())
		Expect(os.WriteFile(capture(), src[:50_000], 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(Succeed())
		Expect(second(record.OpenFiles(dir, record.CaptureFile))).To(MatchError(record.ErrDropped))
		Expect(second(record.Drop(dir, "lean", record.CaptureFile))).To(Succeed())
		Expect(capture()).NotTo(BeAnExistingFile())
	})

	It("works on a partial run, with the hash of what was found", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.WriteFile(w.Path(record.CaptureFile), []byte("video"), 0o666)).To(Succeed())
		Expect(second(record.Drop(dir, "lean", record.CaptureFile))).To(MatchError(record.ErrPartial), "it is being written")
		Expect(capture()).To(BeAnExistingFile())
		Expect(w.Abort("at the start", "the cable was unplugged")).To(Succeed())
		Expect(second(record.Drop(dir, "lean", record.CaptureFile, record.TraceFile))).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).To(MatchError(record.ErrPartial))
		Expect(r.Meta.Stopped.Why).To(Equal("the cable was unplugged"))
		// printf video | sha256sum, GNU coreutils 9.1
		Expect(r.Meta.Dropped).To(Equal(map[string]record.Dropped{record.CaptureFile: {
			SHA256: "0cab1c9617404faf2b24e221e189ca5945813e14d3f766345b09ca13bbe28ffc", Bytes: 5, Why: "lean"}}))
		Expect(capture()).NotTo(BeAnExistingFile())
	})

	It("refuses what was never sealed, names outside the folder and what is no run", func() {
		Expect(play(dir, 10)).To(Succeed())
		Expect(second(record.Drop(dir, "x", "../other"))).To(MatchError(record.ErrDamaged))
		Expect(second(record.Drop(dir, "x", record.TraceFile))).To(MatchError(ContainSubstring("was not sealed with the run")))
		Expect(record.Verify(dir)).To(Succeed())
		Expect(second(record.Drop(filepath.Dir(dir), "x", "y"))).To(MatchError(record.ErrNotRun))
	})

	It("is refused to be read when a dropped file is listed as there", func() {
		Expect(play(dir, 1)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		for _, name := range []string{record.CaptureFile, "../x"} {
			m := r.Meta
			m.Dropped = map[string]record.Dropped{name: {}}
			src, err := record.FormatMeta(m)
			Expect(err).NotTo(HaveOccurred())
			Expect(os.WriteFile(filepath.Join(dir, record.RunFile), src, 0o666)).To(Succeed())
			Expect(record.Verify(dir)).To(MatchError(record.ErrDamaged))
		}
	})

	It("leaves a time of sealing as it was", func() {
		Expect(play(dir, 1)).To(Succeed())
		Expect(second(record.Drop(dir, "x", record.CaptureFile))).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(*r.Meta.Ended).To(BeTemporally("==", time.Date(2026, 3, 1, 12, 1, 0, 0, time.UTC)))
	})
})

// second is the error of a pair.
func second[T any](_ T, err error) error { return err }
