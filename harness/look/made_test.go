package look_test

import (
	"image"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/harness/judge"
	"latchproof/harness/look"
	"latchproof/harness/record"
	"latchproof/specs/console"
	"latchproof/vision"
	"latchproof/vision/screen"
)

// The run that the tests look into, made here: every frame of it is known.
const (
	madeW, madeH = 96, 72
	madeFrames   = 60
	madeLag      = 30 // nothing is read in this frame
)

// madeUnseen are frames whose pictures stand for no frame.
var madeUnseen = []console.Frame{25, 26, 50}

// madeThing is a texture of 8x10 pixels, the same every time.
func madeThing() *screen.Screen {
	rng := rand.New(rand.NewPCG(7, 7))
	s := screen.New(8, 10)
	for i := range s.Y {
		s.Y[i] = byte(40 + 180*rng.IntN(2))
	}
	return s
}

// madeAt is where the thing stands on a frame: one walks to the right, a second
// one stands still.
func madeAt(f int) []image.Point {
	var at []image.Point
	if f >= 5 && f <= 40 {
		at = append(at, image.Pt(10+f, 30))
	}
	if f >= 20 {
		at = append(at, image.Pt(70, 50))
	}
	return at
}

func madeScreen(f int) *screen.Screen {
	rng := rand.New(rand.NewPCG(1, 2))
	s := screen.New(madeW, madeH)
	for i := range s.Y {
		s.Y[i] = byte(90 + rng.IntN(20))
	}
	thing := madeThing()
	for _, p := range madeAt(f) {
		for y := range thing.H {
			copy(s.Y[(p.Y+y)*s.W+p.X:][:thing.W], thing.Y[y*thing.W:])
		}
	}
	return s
}

const madeProgram = "program 1\nrest 10\nmark jump\nhold a for 20\nmark late\nrest 30\n"

// makeRun writes the run into a new folder and opens it. reads false leaves out
// the read log.
func makeRun(reads bool) *look.Run {
	dir := filepath.Join(GinkgoT().TempDir(), "run")
	profile, ok := console.Builtin("ntsc-8bit")
	Expect(ok).To(BeTrue())
	profile.Width, profile.Height = madeW, madeH
	w, err := record.Create(dir, record.Meta{Console: record.FromProfile(profile), Started: time.Unix(0, 0).UTC()}, nil, []byte(madeProgram))
	Expect(err).NotTo(HaveOccurred())
	video, err := vision.CreateVideo(w.Path(record.CaptureFile), vision.FFV1, madeW, madeH, profile.Rate.Hz())
	Expect(err).NotTo(HaveOccurred())
	img := vision.NewImage()
	defer img.Close()
	var rows []record.FrameRow
	for f := range madeFrames {
		s := madeScreen(f)
		Expect(img.SetBGR(s.W, s.H, s.BGR(nil))).To(Succeed())
		Expect(video.Write(img)).To(Succeed())
		row := record.FrameRow{Index: int64(f), Stamp: time.Duration(float64(f) * profile.Rate.Period() * 1e9), Frame: console.Frame(f), State: record.Fresh}
		if slices.Contains(madeUnseen, row.Frame) {
			row.Frame, row.State = record.NoFrame, record.Unsure
		}
		rows = append(rows, row)
	}
	Expect(video.Close()).To(Succeed())
	Expect(w.SetFrames(rows)).To(Succeed())
	if reads {
		n := int64(0)
		for f := range madeFrames {
			if f == madeLag {
				continue
			}
			micros := int64(float64(f) * profile.Rate.Period() * 1e6)
			Expect(w.AppendLatch(feeder.Latch{Index: n, Micros: micros, Clocks: 8})).To(Succeed())
			n++
		}
	}
	Expect(w.Seal(record.Result{Ended: time.Unix(1, 0).UTC()})).To(Succeed())
	rec, err := record.Open(dir)
	Expect(err).NotTo(HaveOccurred())
	r, err := look.New(rec, image.Rectangle{}, judge.NoFields)
	Expect(err).NotTo(HaveOccurred())
	return r
}
