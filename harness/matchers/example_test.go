package matchers_test

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"sync"

	"github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/lamplighter"
	"latchproof/harness/matchers"
	"latchproof/vision/screen"
)

// film is every picture of the demo's sound program.
var film = sync.OnceValue(func() [][]byte {
	p, err := demo.Program("first-lamp")
	if err != nil {
		panic(err)
	}
	pics, _ := demo.Trace(p.Runs(), 1)
	return pics
})

// shots are pictures of the demo's sound program, by their frames, and the files
// that are cut from them. A maker gets screens from a run instead.
func shots(frames ...int) (map[int]*screen.Screen, func(name string) string, func()) {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		panic(err)
	}
	if err := demo.Write(dir); err != nil {
		panic(err)
	}
	pics := film()
	all := map[int]*screen.Screen{}
	for _, f := range frames {
		img := image.NewRGBA(image.Rect(0, 0, lamplighter.Width, lamplighter.Height))
		for i, v := range pics[f] {
			c := lamplighter.Palette[v]
			copy(img.Pix[4*i:], []byte{c.R, c.G, c.B, 255})
		}
		all[f] = screen.FromImage(img)
	}
	return all, func(name string) string { return filepath.Join(dir, name) }, func() { _ = os.RemoveAll(dir) }
}

// report is an Expect that prints what does not hold instead of failing a test.
func report() *gomega.WithT {
	return gomega.NewGomega(func(message string, _ ...int) { fmt.Println(message) }).(*gomega.WithT)
}

func ExampleShowTemplate() {
	screens, file, done := shots(62, 228)
	defer done()
	g := report()
	g.Expect(screens[62]).To(matchers.ShowTemplate(file("gate.png")).Near(0, 131))
	g.Expect(screens[62]).To(matchers.ShowTemplate(file("lamplighter-idle.png")).Near(38, 176).Within(1))
	// Output:
	// shows lamplighter-idle within 1 px of (38, 176) with a score of 0.9 or more (lower in noise): best score within 1 px of (38, 176) is 0.395 at (39, 176), below 0.900; best on the screen is 1.000 at (40, 176), 2 px from (38, 176)
}

func ExampleHideTemplate() {
	screens, file, done := shots(62)
	defer done()
	report().Expect(screens[62]).To(matchers.HideTemplate(file("tumble.png")))
	// Output:
}

func ExampleBeBlack() {
	screens, _, done := shots(55, 62)
	defer done()
	g := report()
	g.Expect(screens[55]).To(matchers.BeBlack())
	g.Expect(screens[62]).NotTo(matchers.BeBlack())
	// Output:
}

func ExampleReadNumber() {
	screens, file, done := shots(847)
	defer done()
	g := report()
	g.Expect(screens[847]).To(matchers.ReadNumber(6).By(file("hud-digits.png")).At(200, 16).Digits(2))
	g.Expect(screens[847]).To(matchers.ReadNumberFrom(7, 9).By(file("hud-digits.png")).At(200, 16).Digits(2))
	// Output:
	// reads 2 characters: 7 to 9 at (200, 16) by glyphs: reads "06", not 7 to 9; worst character scores 1.000 at (200, 16), threshold 0.900, next best is '8' with 0.814
}

func ExampleReadText() {
	screens, file, done := shots(847)
	defer done()
	report().Expect(screens[847]).To(matchers.ReadText("06").By(file("hud-digits.png")).At(200, 16))
	// Output:
}

func ExampleMeasureDistance() {
	screens, file, done := shots(228, 229)
	defer done()
	g := report()
	shoe, corner := matchers.PointIn(file("leap.png")).Pixel(14, 22), matchers.PointIn(file("cart.png")).Near(101, 180, 16)
	g.Expect(screens[228]).To(matchers.MeasureDistance(1, -1).From(corner).To(shoe))
	g.Expect(screens[229]).To(matchers.MeasureDistance(1, -1).From(corner).To(shoe))
	// Output:
	// measures from cart to leap: (1, -1): cart is at (98, 180) and leap at (102, 177): (4, -3), not (1, -1); scores 0.990 and 1.000
}

func ExampleLookLike() {
	screens, file, done := shots(62, 63)
	defer done()
	g := report()
	clock, flame := image.Rect(16, 16, 72, 24), image.Rect(224, 16, 240, 24)
	g.Expect(screens[62]).To(matchers.LookLike(file("street.png")))
	g.Expect(screens[63]).To(matchers.LookLike(file("street.png")).Ignoring(clock, flame))
	g.Expect(screens[63]).To(matchers.LookLike(file("street.png")).Ignoring(clock))
	// Output:
	// the whole screen is the reference, but for 1 region: differs from the reference in [224, 16, 8, 8] (x, y, width, height): 1 block of 8x8 pixels, the most at (224, 16) by 1.647 times its threshold, noise 0.8 levels
}

func ExampleStandStill() {
	screens, _, done := shots(55, 56, 61, 62)
	defer done()
	g := report()
	g.Expect([]*screen.Screen{screens[55], screens[56], screens[61]}).To(matchers.StandStill())
	g.Expect([]*screen.Screen{screens[61], screens[62]}).NotTo(matchers.StandStill())
	// Output:
}
