package lockstep_test

import (
	"bytes"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

var _ = Describe("Adding features that were made already", func() {
	It("writes the same file as adding their screens", func() {
		l := lockstep.Layout{W: 40, H: 20}
		var a, b bytes.Buffer
		wa, err := lockstep.NewTraceWriter(&a, l)
		Expect(err).NotTo(HaveOccurred())
		wb, err := lockstep.NewTraceWriter(&b, l)
		Expect(err).NotTo(HaveOccurred())
		for f := console.Frame(3); f < 150; f += 1 + f%3 {
			s := screen.New(l.W, l.H)
			for i := range s.Y {
				s.Y[i] = byte(int(f)*7 + i*i)
			}
			Expect(wa.Add(f, lockstep.Seen, s)).To(Succeed())
			Expect(wb.AddFeatures(f, lockstep.Seen, lockstep.Extract(s, nil))).To(Succeed())
		}
		Expect(wa.Add(160, lockstep.Unseen, nil)).To(Succeed())
		Expect(wb.AddFeatures(160, lockstep.Unseen, nil)).To(Succeed())
		Expect(wb.AddFeatures(161, lockstep.Seen, make(lockstep.Features, 5))).To(MatchError(ContainSubstring("has 5 features, not 90")))
		Expect(wb.AddFeatures(10, lockstep.Seen, make(lockstep.Features, l.Len()))).To(MatchError(ContainSubstring("given after")))
		Expect(wa.Close()).To(Succeed())
		Expect(wb.Close()).To(Succeed())
		Expect(wb.AddFeatures(170, lockstep.Seen, make(lockstep.Features, l.Len()))).NotTo(Succeed())
		Expect(b.Bytes()).To(Equal(a.Bytes()))
		path := filepath.Join(GinkgoT().TempDir(), "t.lpt")
		Expect(os.WriteFile(path, b.Bytes(), 0o600)).To(Succeed())
		t, err := lockstep.OpenTrace(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(t.Len()).To(Equal(console.Frame(161)))
	})
})
