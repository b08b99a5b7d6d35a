package checks_test

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/specs"
	"latchproof/vision/screen"
)

func TestChecks(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "checks")
}

// Lines 1 to 4 of a spec; a checkpoint's check goes on line 6.
const head = `version: 1
spec: s
program: a.prog
console: ntsc-8bit
checkpoints:
`

// folder is a spec's folder with a program in it.
type folder string

func newFolder() folder {
	f := folder(GinkgoT().TempDir())
	f.put("a.prog", []byte("program 1\nrest 100\n"))
	return f
}

func (f folder) put(name string, data []byte) {
	path := filepath.Join(string(f), name)
	ExpectWithOffset(1, os.MkdirAll(filepath.Dir(path), 0o755)).To(Succeed())
	ExpectWithOffset(1, os.WriteFile(path, data, 0o644)).To(Succeed())
}

// save writes a picture as a template.
func (f folder) save(name string, s *screen.Screen) {
	ExpectWithOffset(1, s.SavePNG(filepath.Join(string(f), name))).To(Succeed())
}

// load loads a spec with one checkpoint whose check is given, such as
// "black: true". Problems are told relative to the folder.
func (f folder) load(check string) (checks.Check, []string) {
	f.put("a.spec.yaml", []byte(head+"  - {name: n, at: 1, "+check+"}\n"))
	return f.reload()
}

// reload loads a.spec.yaml and gives the check of its first checkpoint.
func (f folder) reload() (checks.Check, []string) {
	s, err := specs.Load(filepath.Join(string(f), "a.spec.yaml"), checks.All)
	if err != nil {
		return nil, strings.Split(strings.ReplaceAll(err.Error(), string(f)+"/", ""), "\n")
	}
	return s.Checkpoints[0].Check.(checks.Check), nil
}

// good is load of a check without problems.
func (f folder) good(check string) checks.Check {
	c, bad := f.load(check)
	ExpectWithOffset(1, bad).To(BeEmpty())
	return c
}

// scene is a screen of 8-pixel tiles of random grey, so that no two places look
// alike.
func scene(seed uint64) *screen.Screen {
	r := rand.New(rand.NewPCG(seed, 1))
	s := screen.New(256, 240)
	for ty := 0; ty < 240; ty += 8 {
		for tx := 0; tx < 256; tx += 8 {
			for y := ty; y < ty+8; y += 2 {
				for x := tx; x < tx+8; x += 2 {
					v := byte(r.IntN(200))
					s.Y[y*256+x], s.Y[y*256+x+1], s.Y[(y+1)*256+x], s.Y[(y+1)*256+x+1] = v, v, v, v
				}
			}
		}
	}
	return s
}

// noisy is a copy with Gaussian noise on luma, clipped to 0..255.
func noisy(s *screen.Screen, sigma float64, r *rand.Rand) *screen.Screen {
	c := s.Clone()
	for i, v := range c.Y {
		c.Y[i] = byte(max(0, min(255, float64(v)+sigma*r.NormFloat64()+0.5)))
	}
	return c
}
