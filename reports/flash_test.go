package reports

import (
	"bytes"
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// sampleFlash is a session whose first spec flashes. The numbers are invented.
func sampleFlash() Session {
	s := samplePicture()
	s.Specs = append(s.Specs, sampleHeld().Specs...)
	s.Specs[0].Flash = &Flash{Runs: []FlashRun{
		{Repeat: "hasty-1", RateHz: 60.1, Frames: 868, Unseen: 3, Gap: 2, Stretches: []FlashStretch{
			{Kind: "general", From: 140, To: 260, FromSeconds: 2.329, ToSeconds: 4.326, Flashes: 7, Area: .4271, Place: [4]int{16, 24, 96, 80}, Unseen: 1},
			{Kind: "red", From: 150, To: 201, FromSeconds: 2.496, ToSeconds: 3.344, Flashes: 4, Area: 1, Place: [4]int{0, 0, 256, 240}},
		}},
		{Repeat: "hasty-4", Why: "its trace is damaged"},
	}}
	s.Specs[1].Flash = &Flash{Runs: []FlashRun{{Repeat: "first-lamp-1", RateHz: 60.1, Frames: 900}}}
	return s
}

// part executes one of the parts of the page.
func part(name string, data any) string {
	GinkgoHelper()
	var b bytes.Buffer
	Expect(page.ExecuteTemplate(&b, name, data)).To(Succeed())
	return b.String()
}

var _ = Describe("flashing stretches", func() {
	It("are listed by spec with frames and seconds", func() {
		v := build(sampleFlash())
		_, words := parse(part("flash", v.Specs[0]))
		for _, want := range []string{
			"Flashing", "Caution", "WCAG 2.2, success criterion 2.3.1", "general", "140 to 260", "2.33 to 4.33", "42.7\u00a0%",
			"red", "150 to 201", "2.50 to 3.34", "100\u00a0%", "One repeat of each family is looked at", "3 frames have no picture, at most 2 in a row",
		} {
			Expect(words).To(ContainSubstring(want))
		}
		Expect(v.Specs[0].S.Warnings).To(ContainElement("hasty-4 was not looked at for flashing: its trace is damaged"))
		_, words = parse(part("flash", v.Specs[1]))
		Expect(words).To(ContainSubstring("No stretch flashes"))
		Expect(words).To(ContainSubstring("900 frames of 1 repeat looked at"))
		Expect(words).NotTo(ContainSubstring("Caution"))
		Expect(part("flash", build(Session{Specs: []Spec{{}}}).Specs[0])).To(BeEmpty())
	})

	It("raise one caution for all specs that have any, and none for those that have none", func() {
		v := build(sampleFlash())
		Expect(v.Flashing.Specs).To(HaveLen(1))
		html := part("flash-caution", v.Flashing)
		Expect(html).To(ContainSubstring(`<a href="#s1-flash">`))
		_, words := parse(html)
		Expect(words).To(ContainSubstring("2 flashing stretches"))
		Expect(words).To(ContainSubstring("can cause seizures"))
		Expect(build(sampleHeld()).Flashing).To(BeNil())
	})

	It("put a caution beside their pictures, and into the descriptions, and beside no others", func() {
		v := build(sampleFlash())
		in, out := 0, 0
		for _, sp := range v.Specs {
			for _, c := range sp.Checkpoints {
				for _, p := range c.Proofs {
					if p.Seen == nil {
						continue
					}
					if sp.N == 1 && p.R.Frame >= 140 && p.R.Frame <= 260 {
						in++
						Expect(p.None).To(ContainSubstring("Caution: this frame lies in a stretch of the run that flashes"))
						Expect(p.Seen.Alt).To(HaveSuffix("; of a flashing stretch"))
					} else {
						out++
						Expect(p.None).NotTo(ContainSubstring("flashes"))
						Expect(p.Seen.Alt).NotTo(ContainSubstring("flashing"))
					}
				}
			}
		}
		Expect(in).To(BeNumerically(">", 0))
		Expect(out).To(BeNumerically(">", 0))
		s := samplePicture()
		d := s.Specs[0].Divergences[0].Frame
		s.Specs[0].Flash = &Flash{Runs: []FlashRun{{Stretches: []FlashStretch{{Kind: "general", From: d, To: d}}}}}
		p := build(s).Specs[0].First
		Expect(p.Missing).To(Equal(flashWords))
		Expect(p.PA.Alt).To(HaveSuffix("; of a flashing stretch"))
		Expect(render(s)).To(ContainSubstring(flashWords))
	})

	It("are found by frame, both ends included", func() {
		f := sampleFlash().Specs[0].Flash
		Expect([]bool{f.At(139), f.At(140), f.At(260), f.At(261)}).To(Equal([]bool{false, true, true, false}))
		Expect((*Flash)(nil).At(1)).To(BeFalse())
		Expect(f.Flashes()).To(BeTrue())
		Expect(sampleFlash().Specs[1].Flash.Flashes()).To(BeFalse())
		Expect((*Flash)(nil).Flashes()).To(BeFalse())
	})

	It("are listed up to a hundred, and the rest counted", func() {
		f := &Flash{Runs: []FlashRun{{Repeat: "one", Frames: 1}}}
		for i := range int64(103) {
			f.Runs[0].Stretches = append(f.Runs[0].Stretches, FlashStretch{Kind: "general", From: 100 * i, To: 100*i + 70})
		}
		v := buildFlash(1, f)
		Expect(v.Rows).To(HaveLen(100))
		Expect(v.More).To(Equal("3"))
	})

	It("are texts of strangers", func() {
		for _, bad := range []string{"<script>alert(1)</script>", "\u202eabc", `"><img src=x>`} {
			v := build(Session{Specs: []Spec{{Name: bad, Flash: &Flash{Runs: []FlashRun{{Repeat: bad, Stretches: []FlashStretch{{Kind: bad}}}}}}}})
			html := part("flash", v.Specs[0]) + part("flash-caution", v.Flashing)
			Expect(html).NotTo(ContainSubstring("<script"), fmt.Sprintf("%q", bad))
			Expect(html).NotTo(ContainSubstring("<img"))
			Expect(html).NotTo(ContainSubstring("\u202e"))
		}
	})
})
