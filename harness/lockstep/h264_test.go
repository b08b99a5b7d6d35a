package lockstep_test

import (
	"fmt"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
)

// What an encoder with pictures predicted from others leaves behind lasts, and
// shows a little of what is still to come.
var _ = Describe("x264", func() {
	It("neither parts runs nor moves where they do", func() {
		needFFmpeg()
		cases, frames := 18, 75
		if slow {
			cases = 2
		}
		wrong := make([]string, cases)
		each(cases, func(i int) {
			seed := base + 90000 + uint64(i)
			r := rand.New(rand.NewPCG(seed, 10))
			s := newScene(seed, 128, 120)
			crf := []string{"18", "23", "28"}[i%3]
			sigma := []float64{0, 1, 3, 6}[r.IntN(4)]
			preset := []string{"ultrafast", "veryfast", "medium"}[r.IntN(3)]
			c := []change{stepOne, vanish, digit}[r.IntN(3)]
			at := 25 + r.IntN(20)
			for s.wraps(at) || s.wraps(at+1) || s.wraps(at+2) || s.wraps(at+3) {
				at++
			}
			film := func(n int, show func(int) (int, change)) lockstep.Run {
				w := &raw{s: s, zoom: 2, sigma: sigma, r: rand.New(rand.NewPCG(seed, uint64(n))), frames: frames, show: show}
				m, err := stream(w, "-c:v", "libx264", "-crf", crf, "-preset", preset, "-pix_fmt", "yuv420p", "-g", "30", "-threads", "1")
				if err != nil {
					wrong[i] = err.Error()
				}
				return lockstep.Run{Name: fmt.Sprint(n), Trace: m, Reads: log(frames)}
			}
			a, same, other := film(0, straight), film(1, straight), film(2, from(at, c))
			what := fmt.Sprintf("case %d (seed %d): crf %s %s, sigma %v, change %d at %d: ", i, seed, crf, preset, sigma, c, at)
			rep, err := lockstep.Compare(a, same)
			if err != nil || rep.Divergence != nil {
				wrong[i] += what + fmt.Sprintf("the same: %v %+v; ", err, rep.Divergence)
			}
			rep, err = lockstep.Compare(same, other)
			if d := rep.Divergence; err != nil || d == nil || d.Frame != console.Frame(at) {
				wrong[i] += what + fmt.Sprintf("%v %+v, noise %+v, suspects %v", err, d, rep.Noise, rep.Suspects)
			}
		})
		Expect(names(wrong)).To(BeEmpty())
	})
})
