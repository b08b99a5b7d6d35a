package harness_test

import (
	"context"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"golang.org/x/sys/unix"

	"latchproof/harness"
	"latchproof/harness/record"
	"latchproof/vision"
)

var _ = Describe("a disk that is full while a card is captured live", Serial, func() {
	It("leaves a partial run that says so, without playing on", func(ctx context.Context) {
		dir := GinkgoT().TempDir()
		if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=600k"); err != nil {
			Skip("mounting a small file system is not permitted here: " + err.Error())
		}
		DeferCleanup(func() { Expect(unix.Unmount(dir, 0)).To(Succeed()) })
		_, bench := workbench()
		p := &harness.Player{Bench: bench, Out: dir, Version: "test"}
		run, err := p.Play(ctx, short(), 1, 1)
		Expect(err).To(MatchError(vision.ErrDiskFull))
		Expect(err).NotTo(MatchError(context.Canceled))
		Expect(run.State).To(Equal(record.Partial))
		_, err = record.Open(run.Dir)
		Expect(err).To(MatchError(record.ErrPartial))
		Expect(err).To(MatchError(ContainSubstring("disk full")))
	})
})
