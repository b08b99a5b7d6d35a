package vision_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/vision"
)

// raw is a picture in planes, as a YUV4MPEG file keeps it: no encoder is
// between the bytes of a test and the reader.
type raw struct {
	w, h   int
	cw, ch int // of a chroma plane; 0: grey
	header string
	plane  [3][]byte
}

// newRaw makes a picture of random samples in one of the file's colour spaces.
func newRaw(w, h int, space string, seed uint64) *raw {
	r := &raw{w: w, h: h, header: fmt.Sprintf("YUV4MPEG2 W%d H%d F60:1 Ip A1:1 C%s", w, h, space)}
	switch space {
	case "420jpeg", "420mpeg2", "420paldv":
		r.cw, r.ch = (w+1)/2, (h+1)/2
	case "422":
		r.cw, r.ch = (w+1)/2, h
	case "444":
		r.cw, r.ch = w, h
	case "411":
		r.cw, r.ch = (w+3)/4, h
	case "mono":
	default:
		panic(space)
	}
	rng := rand.New(rand.NewPCG(seed, 4))
	for i, n := range []int{w * h, r.cw * r.ch, r.cw * r.ch} {
		r.plane[i] = make([]byte, n)
		for j := range r.plane[i] {
			r.plane[i][j] = byte(rng.Uint32())
		}
	}
	return r
}

// write makes a file of n times the picture.
func (r *raw) write(path string, n int) error {
	var b bytes.Buffer
	b.WriteString(r.header + "\n")
	for range n {
		b.WriteString("FRAME\n")
		for _, p := range r.plane {
			b.Write(p)
		}
	}
	return os.WriteFile(path, b.Bytes(), 0o600)
}

// picture reads the picture back.
func (r *raw) picture() *vision.Picture {
	GinkgoHelper()
	path := filepath.Join(GinkgoT().TempDir(), "p.y4m")
	Expect(r.write(path, 1)).To(Succeed())
	return firstPicture(path)
}

func firstPicture(path string) *vision.Picture {
	GinkgoHelper()
	v, err := vision.OpenVideo(path)
	Expect(err).NotTo(HaveOccurred())
	defer v.Close()
	p := &vision.Picture{}
	Expect(v.Read(p)).To(Succeed())
	Expect(p.Damaged()).To(BeFalse())
	DeferCleanup(p.Close)
	return p
}
