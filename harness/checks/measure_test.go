package checks_test

import (
	"image"
	"math/rand/v2"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/vision"
	"latchproof/vision/screen"
)

var _ = Describe("measure", func() {
	// foot and corner are two things cut from random tiles; put stands them on a
	// street.
	foot, corner := cropped16(1), cropped16(2)
	put := func(s *screen.Screen, pic *screen.Screen, x, y int) {
		for dy := range pic.H {
			copy(s.Y[(y+dy)*s.W+x:][:pic.W], pic.Y[dy*pic.W:][:pic.W])
		}
	}
	stand := func(a, b image.Point) *screen.Screen {
		s := street(4)
		put(s, foot, a.X, a.Y)
		put(s, corner, b.X, b.Y)
		return s
	}
	template := func(pic *screen.Screen) *vision.Template {
		GinkgoHelper()
		t, err := vision.NewTemplate(pic, nil)
		Expect(err).NotTo(HaveOccurred())
		return t
	}
	look := func(c checks.Check, s *screen.Screen) checks.Sight {
		sight, err := c.Look(s)
		ExpectWithOffset(1, err).NotTo(HaveOccurred())
		return sight
	}
	points := "points:\n  foot: {template: foot, at: [7, 15]}\n  corner: {template: corner}\n"
	load := func(check, points string) (checks.Check, []string) {
		f := newFolder()
		f.save("foot.png", foot)
		f.save("corner.png", corner)
		f.put("a.spec.yaml", []byte(head+"  - {name: n, at: 1, "+check+"}\n"+points))
		return f.reload()
	}

	It("measures to the pixel, under noise too", func() {
		c, bad := load("measure: {from: foot, to: corner}, equals: [1, 0]", points)
		Expect(bad).To(BeEmpty())
		r := rand.New(rand.NewPCG(2, 2))
		times := 100
		if testing.Short() {
			times = 10
		}
		for range times {
			a := image.Pt(r.IntN(240), r.IntN(100))
			b := image.Pt(r.IntN(240), 120+r.IntN(100))
			sight := look(c, noisy(stand(a, b), 20, r))
			d := b.Sub(a).Sub(image.Pt(7, 15))
			Expect(sight.Unsure).To(BeFalse(), sight.Why)
			Expect(sight.Value).To(Equal([2]int{d.X, d.Y}))
			Expect(sight.Holds).To(Equal(d == image.Pt(1, 0)))
		}
		sight := look(c, stand(image.Pt(50, 100), image.Pt(58, 115)))
		Expect(sight.Holds).To(BeTrue())
		Expect(sight.Why).To(MatchRegexp(`^foot is at \(57, 115\) and corner at \(58, 115\): \(1, 0\); scores \d\.\d{3} and \d\.\d{3}$`))
		Expect(sight.At).To(Equal(image.Pt(50, 100)))
		Expect(sight.Size).To(Equal(image.Pt(24, 31)))
		sight = look(c, stand(image.Pt(50, 100), image.Pt(60, 115)))
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Why).To(HavePrefix("foot is at (57, 115) and corner at (60, 115): (3, 0), not (1, 0)"))
		Expect(c.Describe()).To(Equal("measures from foot to corner: (1, 0)"))
		Expect(c.Templates()).To(Equal([]string{"foot.png", "corner.png"}))
	})

	It("allows a tolerance in x and in y", func() {
		c, bad := load("measure: {from: foot, to: corner}, equals: [5, 5], tolerance: 2", points)
		Expect(bad).To(BeEmpty())
		for dx := 2; dx <= 8; dx++ {
			for dy := 2; dy <= 8; dy++ {
				sight := look(c, stand(image.Pt(50, 100), image.Pt(57+dx, 115+dy)))
				Expect(sight.Holds).To(Equal(dx >= 3 && dx <= 7 && dy >= 3 && dy <= 7), "%d, %d: %s", dx, dy, sight.Why)
			}
		}
		Expect(c.Describe()).To(Equal("measures from foot to corner: (5, 5) give or take 2 px"))
	})

	It("fails when a point is not there, and measures anything without equals", func() {
		c, bad := load("measure: {from: foot, to: corner}", points)
		Expect(bad).To(BeEmpty())
		Expect(look(c, stand(image.Pt(50, 100), image.Pt(80, 80))).Holds).To(BeTrue())
		s := street(4)
		put(s, foot, 50, 100)
		sight := look(c, s)
		Expect(sight.Holds).To(BeFalse())
		Expect(sight.Unsure).To(BeFalse())
		Expect(sight.Value).To(BeNil())
		Expect(sight.Why).To(HavePrefix("point corner: best score on the screen is "))
	})

	It("is unsure when a template stands in two places, or between two pixels", func() {
		anywhere := checks.NewMeasure(checks.Point{Template: template(foot)}, checks.Point{Template: template(corner)}, nil, 0)
		s := stand(image.Pt(50, 100), image.Pt(80, 80))
		put(s, corner, 150, 80)
		sight := look(anywhere, s)
		Expect(sight.Unsure).To(BeTrue())
		Expect(sight.Why).To(Equal("point to: cannot tell which template is meant: it scores 1.000 at (80, 80) and 1.000 at (150, 80); give `near` and `within`"))
		near := checks.NewMeasure(checks.Point{Template: template(foot)},
			checks.Point{Template: template(corner), Place: &checks.Place{Near: image.Pt(148, 82), Within: 5}}, nil, 0)
		Expect(look(near, s).Value).To(Equal([2]int{100, -20}))

		// Half a pixel to the right: the mean of two neighbours, on an art that is
		// smooth enough to be found at either.
		smooth := screen.New(16, 16)
		for i := range smooth.Y {
			smooth.Y[i] = byte(40 + 8*(i%16) + 4*(i/16))
		}
		s = paper(256, 240, 100)
		put(s, foot, 50, 100)
		for y := range 16 {
			for x := range 17 {
				l, r := max(0, x-1), min(15, x)
				s.Y[(80+y)*256+80+x] = byte((int(smooth.Y[y*16+l]) + int(smooth.Y[y*16+r])) / 2)
			}
		}
		sight = look(checks.NewMeasure(checks.Point{Template: template(foot)}, checks.Point{Template: template(smooth)}, nil, 0), s)
		Expect(sight.Unsure).To(BeTrue(), sight.Why)
		Expect(sight.Why).To(HaveSuffix("too near to tell"))
	})

	DescribeTable("refuses", func(check, points string, want ...string) {
		_, bad := load(check, points)
		Expect(bad).To(HaveLen(len(want)))
		for i := range want {
			Expect(bad[i]).To(Equal("a.spec.yaml:" + want[i]))
		}
	},
		Entry("points that nobody named", "measure: {from: foot, to: tower}", points,
			`6:48: checkpoints[0].measure.to: no point named "tower"; those named are foot, corner`),
		Entry("no points at all", "measure: {from: foot, to: corner}", "",
			"6:38: checkpoints[0].measure.from: no point named \"foot\": the spec has no `points`",
			"6:48: checkpoints[0].measure.to: no point named \"corner\": the spec has no `points`"),
		Entry("a point to itself", "measure: {from: foot, to: foot}", points,
			"6:48: checkpoints[0].measure.to: the same point as from"),
		Entry("a tolerance alone", "measure: {from: foot, to: corner}, tolerance: 1", points,
			"6:68: checkpoints[0].tolerance: only together with equals"),
		Entry("an equals that is no distance", "measure: {from: foot, to: corner}, equals: 1", points,
			"6:65: checkpoints[0].equals: want a distance [x, y], have 1"),
		Entry("a companion of another kind", "measure: {from: foot, to: corner}, at_least: 1", points,
			"6:67: checkpoints[0].at_least: goes with reads, not with measure"),
		Entry("a pixel outside the template", "measure: {from: foot, to: corner}", strings.Replace(points, "[7, 15]", "[7, 16]", 1),
			"8:30: points.foot.at: (7, 16) is outside of foot.png, which is 16x16"),
		Entry("a point without a template", "measure: {from: foot, to: corner}", strings.Replace(points, "{template: corner}", "{at: [1, 1]}", 1),
			"6:48: checkpoints[0].measure.to: no point named \"corner\"; those named are foot",
			"9:11: points.corner.template: missing"),
		Entry("a point named twice", "measure: {from: foot, to: corner}", points+"  foot: {template: foot}\n",
			"10:3: points.foot: key given twice; first on line 8"),
		Entry("a name of other characters", "measure: {from: foot, to: corner}", points+"  a b: {template: foot}\n",
			"10:3: points.\"a b\": want a name of letters, digits, `_`, `.` and `-`, have \"a b\""),
		Entry("a template that is not there", "measure: {from: foot, to: corner}", strings.Replace(points, "template: corner", "template: tower", 1),
			"9:22: points.corner.template: tower.png: no such file or directory"),
	)
})

// cropped16 is 16x16 pixels of random tiles.
func cropped16(seed uint64) *screen.Screen {
	s := screen.New(16, 16)
	from := scene(seed)
	for y := range 16 {
		copy(s.Y[y*16:][:16], from.Y[y*256:])
	}
	return s
}
