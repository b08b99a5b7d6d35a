package verify_test

import (
	"context"
	"crypto/ed25519"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/recordbook"
	"latchproof/harness/verify"
)

// states are those of the findings, in order, with the runs' names left out.
func states(r *verify.Report) (out []string) {
	for _, f := range r.Findings {
		out = append(out, f.What+" "+string(f.State))
	}
	return out
}

func show(r *verify.Report) {
	for _, f := range r.Findings {
		GinkgoWriter.Println(f.What, f.Run, f.State, f.Why)
	}
	GinkgoWriter.Println(r.RestsOnVideo, r.Notes)
}

var _ = Describe("a bundle as certify makes it", func() {
	of := func(run ...string) []string {
		out := []string{"archive holds", "signature holds", "files holds", "videos holds", "claim holds"}
		for range 2 {
			for _, what := range append([]string{"record", "reads", "clock", "trace", "pictures", "verdicts"}, run...) {
				out = append(out, what+" holds")
			}
		}
		return append(out, "lockstep holds", "decision holds", "certificate holds")
	}

	It("holds by the maker's key, with the videos beside it", func(ctx context.Context) {
		r, err := verify.Verify(ctx, needsRun().path, verify.Options{Key: makers})
		Expect(err).NotTo(HaveOccurred())
		show(r)
		Expect(states(r)).To(Equal(of("video")))
		Expect(r.Holds).To(BeTrue())
		Expect(r.Code).To(Equal(0))
		Expect(r.Signer).To(Equal(verify.SignerGiven))
		Expect(r.KeyID).To(Equal(attest.KeyID(makers)))
		Expect(r.Frames).To(BeEquivalentTo(took))
		Expect(r.RestsOnVideo).To(BeEmpty())
		Expect(r.Notes).To(BeEmpty())
	})

	It("holds without videos, and says what rests on them and that nobody said whose key it is", func(ctx context.Context) {
		m := needsRun()
		for _, o := range []verify.Options{{NoVideos: true}, {Videos: GinkgoT().TempDir()}} {
			r, err := verify.Verify(ctx, m.path, o)
			Expect(err).NotTo(HaveOccurred())
			show(r)
			Expect(states(r)).To(Equal(of()))
			Expect(r.Holds).To(BeTrue())
			Expect(r.Signer).To(Equal(verify.SignerUnknown))
			Expect(r.Notes).To(ContainElement(ContainSubstring("nobody said whose key")))
			var rests []string
			for _, x := range r.RestsOnVideo {
				rests = append(rests, x.Run+" "+x.What)
			}
			Expect(rests).To(Equal([]string{
				"runs/a/run-001 does not fall",
				"runs/a/run-002 does not fall",
			}))
		}
	})

	It("is of another key than the one asked for", func(ctx context.Context) {
		r, err := verify.Verify(ctx, needsRun().path, verify.Options{Key: othersKey.Public().(ed25519.PublicKey)})
		Expect(err).NotTo(HaveOccurred())
		Expect(states(r)[:3]).To(Equal([]string{"archive holds", "signature broken", "files not looked at"}))
		Expect(r.Code).To(Equal(1))
		Expect(r.Claim).To(BeEmpty(), "nothing that is not signed is told")
	})

	It("does not hold when a video beside it is another one", func(ctx context.Context) {
		m := needsRun()
		dir := GinkgoT().TempDir()
		src, err := os.ReadFile(filepath.Join(filepath.Dir(m.path), secondRun, "capture.mkv"))
		Expect(err).NotTo(HaveOccurred())
		Expect(os.MkdirAll(filepath.Join(dir, firstRun), 0o777)).To(Succeed())
		Expect(os.WriteFile(filepath.Join(dir, firstRun, "capture.mkv"), src, 0o666)).To(Succeed())
		r, err := verify.Verify(ctx, m.path, verify.Options{Videos: dir, Key: makers})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Code).To(Equal(1))
		Expect(r.Broken()).To(HaveLen(1))
		Expect(r.Broken()[0].What).To(Equal("videos"))
		Expect(r.Broken()[0].Why).To(ContainSubstring(firstRun + "capture.mkv"))
	})

	It("is in the book, with the standing that it states, or is not", func(ctx context.Context) {
		m := needsRun()
		book, err := recordbook.Create(filepath.Join(GinkgoT().TempDir(), "book"), "Linden Street", makersKey)
		Expect(err).NotTo(HaveOccurred())
		defer book.Close()
		r, err := verify.Verify(ctx, m.path, verify.Options{Key: makers, NoVideos: true, Book: book})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Broken()).To(HaveLen(1))
		Expect(r.Broken()[0].What).To(Equal("standing"))
	})

	It("is played anew on another bench, in lockstep and in the same time", func(ctx context.Context) {
		m := needsRun()
		r, err := verify.Verify(ctx, m.path, verify.Options{Key: makers, NoVideos: true, Repeats: 1,
			Replay: &harness.Player{Bench: bench(7), Out: GinkgoT().TempDir(), Version: "test"}})
		Expect(err).NotTo(HaveOccurred())
		show(r)
		last := r.Findings[len(r.Findings)-1]
		Expect(last.What).To(Equal("replay"))
		Expect(last.State).To(Equal(verify.Holds), last.Why)
		Expect(last.Why).To(ContainSubstring("1 of 1 repeats in lockstep"))
	})

	It("cannot be opened when it is not there", func(ctx context.Context) {
		_, err := verify.Verify(ctx, filepath.Join(GinkgoT().TempDir(), "x.bundle"), verify.Options{})
		Expect(err).To(MatchError(os.ErrNotExist))
	})

	It("is not told of when the time is up", func(ctx context.Context) {
		ctx, cancel := context.WithCancel(ctx)
		cancel()
		_, err := verify.Verify(ctx, needsRun().path, verify.Options{})
		Expect(err).To(MatchError(context.Canceled))
	})
})
