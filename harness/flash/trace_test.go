package flash_test

import (
	"bytes"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/lamplighter"
	"latchproof/harness/flash"
	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// traced writes a trace of a made run and reads it back.
func traced(m film) *lockstep.TraceFile {
	GinkgoHelper()
	var b bytes.Buffer
	w, err := lockstep.NewTraceWriter(&b, lockstep.Layout{W: m.w, H: m.h})
	Expect(err).NotTo(HaveOccurred())
	s := screen.New(m.w, m.h)
	for f := range m.frames {
		if m.unseen != nil && m.unseen(f) {
			continue
		}
		m.draw(f, s)
		Expect(w.Add(console.Frame(f), lockstep.Seen, s)).To(Succeed())
	}
	Expect(w.Close()).To(Succeed())
	t, err := lockstep.ReadTrace("made", bytes.NewReader(b.Bytes()), int64(b.Len()))
	Expect(err).NotTo(HaveOccurred())
	return t
}

var _ = Describe("a trace", func() {
	It("tells what its features tell, from any frame on", func() {
		m := film{w: 64, h: 60, frames: 600, hz: 60, unseen: func(f int) bool { return f%7 == 3 }, draw: func(f int, s *screen.Screen) {
			fill(s, whole, grey(40))
			if (f < 90 || f >= 400 && f < 460) && f/4%2 == 0 {
				fill(s, whole, white)
			}
		}}
		t := traced(m)
		all, err := flash.OfTrace(t, 0, 60)
		Expect(err).NotTo(HaveOccurred())
		Expect(all).To(Equal(m.traced()))
		Expect(all.Stretches).To(HaveLen(2))
		late, err := flash.OfTrace(t, 200, 60)
		Expect(err).NotTo(HaveOccurred())
		Expect(late.Frames).To(BeEquivalentTo(400))
		Expect(late.Stretches).To(Equal(all.Stretches[1:]))
		_, err = flash.OfTrace(t, 0, 0)
		Expect(err).To(HaveOccurred())
	})

	It("of the demonstration is calm", func() {
		if testing.Short() {
			Skip("pictures take ten times as long under the race detector")
		}
		for _, name := range []string{"first-lamp", "hasty"} {
			p, err := demo.Program(name)
			Expect(err).NotTo(HaveOccurred())
			pictures, _ := demo.Trace(p.Runs(), 1)
			w, err := flash.New(lamplighter.Width, lamplighter.Height, 60.0988)
			Expect(err).NotTo(HaveOccurred())
			s := screen.New(lamplighter.Width, lamplighter.Height)
			var features lockstep.Features
			for f, pix := range pictures {
				for i, v := range pix {
					c := lamplighter.Palette[v]
					s.Y[i], s.Cb[i], s.Cr[i] = screen.YCbCr(c.R, c.G, c.B)
				}
				features = lockstep.Extract(s, features)
				Expect(w.Features(console.Frame(f), features)).To(Succeed())
			}
			Expect(w.Finish(console.Frame(len(pictures) - 1)).Stretches).To(BeEmpty())
		}
	})
})
