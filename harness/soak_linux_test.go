package harness_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/sys/unix"

	"latchproof/harness"
	"latchproof/harness/soak"
)

var _ = Describe("a soak on a disk that fills up", Serial, func() {
	It("stops, says so in its journal, and goes on when there is room", func(ctx context.Context) {
		if testing.Short() {
			Skip("another soak takes long under the race detector")
		}
		whole := newSoaked(few, parting)
		whole.run(ctx, whole.begin(harness.SoakOptions{Most: 6}))

		x := newSoaked(few, parting)
		if err := unix.Mount("tmpfs", x.out, "tmpfs", 0, "size=32m"); err != nil {
			Skip("mounting a small file system is not permitted here: " + err.Error())
		}
		DeferCleanup(func() { Expect(unix.Unmount(x.out, 0)).To(Succeed()) })
		ballast := filepath.Join(x.out, "ballast")
		// leave fills the disk up to so many bytes.
		leave := func(free int64) {
			GinkgoHelper()
			Expect(os.RemoveAll(ballast)).To(Succeed())
			var fs unix.Statfs_t
			Expect(unix.Statfs(x.out, &fs)).To(Succeed())
			Expect(os.WriteFile(ballast, make([]byte, max(int64(fs.Bavail)*int64(fs.Bsize)-free, 0)), 0o666)).To(Succeed())
		}
		leave(20 << 20)
		k := x.begin(harness.SoakOptions{Most: 6})
		k.Told = func(string) { leave(120 << 10) } // the next repeat does not fit
		x.run(ctx, k)
		Expect(k.ExitCode()).To(Equal(3))
		Expect(k.Sentence()).To(ContainSubstring("it ended because the disk is full; make room and resume"))
		Expect(outcomes(x.entries())).To(Equal([]soak.Outcome{soak.Reference, soak.Stopped}))
		Expect(filepath.Join(x.out, "few", "run-002")).NotTo(BeAnExistingFile())

		// With more and more room it comes further and further; whatever it was
		// that did not fit, what is there is sound.
		for room := int64(0); room < 3<<20; room += 180 << 10 {
			leave(room)
			k, err := harness.ResumeSoak(x.p, x.spec, "")
			if err != nil {
				Expect(err).To(MatchError(soak.ErrFull), "with %d bytes free", room)
				continue
			}
			Expect(k.Run(ctx)).To(Succeed(), "with %d bytes free", room)
			Expect(k.Close()).To(Succeed())
			Expect(k.ExitCode()).To(Equal(3))
			if k.Tally().Last < 6 {
				Expect(k.Sentence()).To(ContainSubstring("the disk is full"), "with %d bytes free", room)
			}
		}
		Expect(os.Remove(ballast)).To(Succeed())
		k, err := harness.ResumeSoak(x.p, x.spec, "")
		Expect(err).NotTo(HaveOccurred())
		x.run(ctx, k)
		Expect(settled(x.entries())).To(Equal(settled(whole.entries())))
		n := 0
		for _, e := range x.entries() {
			if e.Outcome == soak.Stopped {
				n++
			}
		}
		fmt.Fprintf(GinkgoWriter, "stopped by the full disk %d times\n", n)
	})
})
