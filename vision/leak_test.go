//go:build matprofile

package vision_test

import (
	"bytes"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gocv.io/x/gocv"

	"latchproof/vision"
)

// Every Mat of the whole suite must be closed at its end. Run with
//
//	go test -tags matprofile ./vision
var _ = AfterSuite(func() {
	path := filepath.Join(GinkgoT().TempDir(), "v.mkv")
	Expect(os.WriteFile(path, []byte("\x1a\x45\xdf\xa3 damaged"), 0o600)).To(Succeed())
	_, err := vision.OpenVideo(path)
	Expect(err).To(MatchError(vision.ErrNoVideo))

	var open bytes.Buffer
	Expect(gocv.MatProfile.WriteTo(&open, 1)).To(Succeed())
	Expect(gocv.MatProfile.Count()).To(BeZero(), open.String())
})
