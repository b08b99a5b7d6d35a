package claim_test

import (
	"bytes"
	"image"
	"image/color"
	stdpng "image/png"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/specs"
)

func TestClaim(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "claim")
}

const (
	claimText = `version: 1
claim: reaches the end of the walk
by: Some Name
program: fast.prog
category: walk
frames: 34
`
	ownText = `version: 1
claim: reaches the end of the walk
by: Some Name
program: fast.prog
spec: mine.spec.yaml
frames: 34
`
	progText  = "program 1\nrest 10\nmark jump\nhold a for 30\n"
	houseText = `version: 1
house: Linden Street
own_specs: true
categories:
  walk: {spec: walk.spec.yaml}
`
	specText = `version: 1
spec: the walk
program: walk.prog
console: ntsc-8bit
checkpoints:
  - {name: dark, at: jump+2, black: true}
  - {name: a gate, at: 20, shows: {template: gate}}
timing: {from: {at: 4}, to: {gone: gate}}
`
)

// mineText is an own spec.
var mineText = strings.Replace(specText, "walk.prog", "fast.prog", 1)

// box is a folder.
type box string

func newBox() box { return box(GinkgoT().TempDir()) }

// put writes a file and gives its path.
func (b box) put(name string, text string) string {
	GinkgoHelper()
	file := filepath.Join(string(b), filepath.FromSlash(name))
	Expect(os.MkdirAll(filepath.Dir(file), 0o777)).To(Succeed())
	Expect(os.WriteFile(file, []byte(text), 0o666)).To(Succeed())
	return file
}

// lines are the problems of an error, paths told from the folder.
func (b box) lines(err error) []string {
	if err == nil {
		return nil
	}
	var list specs.ErrorList
	ExpectWithOffset(1, err).To(BeAssignableToTypeOf(list))
	ExpectWithOffset(1, err.(specs.ErrorList)).NotTo(BeEmpty())
	return strings.Split(strings.ReplaceAll(err.Error(), string(b)+"/", ""), "\n")
}

// gate is a picture of many levels, as a PNG.
func gate(w, h int) string {
	m := image.NewGray(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.SetGray(i%w, i/w, color.Gray{Y: byte(i * i / 7)})
	}
	var out bytes.Buffer
	Expect(stdpng.Encode(&out, m)).To(Succeed())
	return out.String()
}

// newHouse is a house with one category.
func newHouse() *claim.House {
	GinkgoHelper()
	b := newBox()
	b.put("walk.spec.yaml", specText)
	b.put("walk.prog", "program 1\nrest 20\nmark jump\nrest 60\n")
	b.put("gate.png", gate(16, 16))
	b.put("house.yaml", houseText)
	h, err := claim.OpenHouse(string(b), checks.All)
	Expect(err).NotTo(HaveOccurred())
	return h
}

// newClaim is a sound submission against the category of newHouse.
func newClaim() (box, string) {
	b := newBox()
	b.put("fast.prog", progText)
	return b, b.put("fast.claim.yaml", claimText)
}

// newOwn is a sound submission with its own spec.
func newOwn() (box, string) {
	b := newBox()
	b.put("fast.prog", progText)
	b.put("mine.spec.yaml", mineText)
	b.put("gate.png", gate(16, 16))
	return b, b.put("fast.claim.yaml", ownText)
}

// allocated is how much f takes from the heap, bytes.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}
