package harness_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"image"
	"image/png"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/lamplighter"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/record"
	"latchproof/reports"
)

// pictureSum is the sum that the simulated bench keeps of a picture, of the
// palette colours nearest to those of a PNG.
func pictureSum(p *reports.Picture) uint64 {
	GinkgoHelper()
	img, err := png.Decode(bytes.NewReader(p.Data))
	Expect(err).NotTo(HaveOccurred())
	Expect(img.Bounds()).To(Equal(image.Rect(0, 0, lamplighter.Width, lamplighter.Height)))
	var pix []byte
	for y := range lamplighter.Height {
		for x := range lamplighter.Width {
			r, g, b, _ := img.At(x, y).RGBA()
			best, least := 0, 1<<30
			for i, c := range lamplighter.Palette {
				dr, dg, db := int(r>>8)-int(c.R), int(g>>8)-int(c.G), int(b>>8)-int(c.B)
				if d := dr*dr + dg*dg + db*db; d < least {
					best, least = i, d
				}
			}
			Expect(least).To(BeNumerically("<=", 12), "colour at (%d, %d)", x, y)
			pix = append(pix, byte(best))
		}
	}
	sum := sha256.Sum256(pix)
	return binary.BigEndian.Uint64(sum[:])
}

var _ = Describe("the pictures around a divergence", func() {
	It("are those of the console, frame by frame, with the reads and the line in force", func(ctx context.Context) {
		b := tiny(func(c *sim.Config) {
			c.Card.Codec, c.Card.Noise = sim.CodecFFV1, 0
			c.Console.DoubleReads, c.Console.Lag = false, false
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "missed-read", Repeats: []int{2}, At: []int64{20}})
		})
		p := &harness.Player{Bench: b, Out: GinkgoT().TempDir(), Version: "test", KeepScreens: true}
		sp := brief(toLinden)
		sp.Repeats = 2
		c := harness.NewCase(sp, p)
		defer c.Release()
		_, err := c.Lockstep(ctx)
		Expect(err).NotTo(HaveOccurred())
		s, err := harness.Report("t", "test", []*harness.Case{c})
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Specs[0].Divergences).To(HaveLen(1))
		d := s.Specs[0].Divergences[0]
		Expect(d.Window).NotTo(BeNil())
		frames := d.Window.Frames
		Expect(frames).To(HaveLen(24))
		runs, _ := c.Runs()
		fresh := []map[int64]bool{{}, {}}
		for i, r := range runs {
			rec, err := record.Open(r.Dir)
			Expect(err).NotTo(HaveOccurred())
			rows, err := rec.Frames()
			Expect(err).NotTo(HaveOccurred())
			for _, row := range rows {
				if row.State == record.Fresh {
					fresh[i][int64(row.Frame)] = true
				}
			}
		}
		bench, ok := b.(*sim.Bench)
		Expect(ok).To(BeTrue())
		truths := []*sim.Truth{bench.Truth(1), bench.Truth(2)}
		seen := 0
		for i, f := range frames {
			Expect(f.Frame).To(Equal(d.Frame - 8 + int64(i)))
			for k, side := range []reports.WindowSide{f.A, f.B} {
				Expect(side.Picture != nil).To(Equal(fresh[k][f.Frame]), "frame %d", f.Frame)
				if side.Picture == nil {
					Expect(side.Unseen).To(ContainSubstring("no picture that is surely of this frame"))
					continue
				}
				seen++
				if i%4 == 0 { // matching colours takes long
					Expect(pictureSum(side.Picture)).To(Equal(truths[k].Frames[f.Frame].Picture), "frame %d", f.Frame)
				}
			}
		}
		Expect(seen).To(BeNumerically(">", 40))
		at := frames[8]
		Expect(at.Frame).To(Equal(d.Frame))
		Expect(at.A.Line).To(BeNumerically(">", 0))
		Expect(at.A.LineText).NotTo(BeEmpty())
		for _, f := range frames {
			for _, row := range d.ReadRows {
				if row.Frame == f.Frame {
					Expect([]string{f.A.Reads, f.B.Reads}).To(Equal([]string{row.A, row.B}))
				}
			}
		}

		// Without the videos what was kept while judging is shown, and that is said.
		for _, r := range runs {
			Expect(os.Remove(filepath.Join(r.Dir, record.CaptureFile))).To(Succeed())
		}
		s, err = harness.Report("t", "test", []*harness.Case{c})
		Expect(err).NotTo(HaveOccurred())
		again := s.Specs[0].Divergences[0].Window
		for i, f := range again.Frames {
			if f.A.Picture != nil {
				Expect(f.A.Picture.Type).To(Equal("image/jpeg"))
			}
			Expect(f.A.Picture != nil).To(Equal(frames[i].A.Picture != nil))
		}
		Expect(s.Specs[0].Warnings).To(ContainElement(HavePrefix("no pictures of repeat 1 from its video: ")))
	})
})
