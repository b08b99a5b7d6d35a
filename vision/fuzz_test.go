package vision_test

import (
	"bytes"
	"testing"

	"latchproof/vision"
)

// FuzzMatroska walks damaged files; it must end, and never count a picture
// that is not there.
func FuzzMatroska(f *testing.F) {
	// Segment of unknown size, cluster of unknown size, two simple blocks.
	f.Add([]byte("\x18\x53\x80\x67\x01\xff\xff\xff\xff\xff\xff\xff\x1f\x43\xb6\x75\xff\xa3\x81\x00\xa3\x82\x00\x00"))
	f.Add([]byte("\x1a\x45\xdf\xa3\x80\xa0\x80\xa1\x40\x01\x00"))
	f.Add([]byte{0, 0, 0})
	f.Fuzz(func(t *testing.T, src []byte) {
		n, err := vision.WalkBlocks(bytes.NewReader(src), int64(len(src)))
		if n < 0 || n > int64(len(src))/2 {
			t.Fatalf("%d pictures in %d bytes (%v)", n, len(src), err)
		}
	})
}

// FuzzContainer tries the signatures on anything.
func FuzzContainer(f *testing.F) {
	f.Add([]byte("\x1a\x45\xdf\xa3"))
	f.Add([]byte("RIFF\x00\x00\x00\x00AVI LIST"))
	f.Add([]byte("G"))
	f.Fuzz(func(t *testing.T, head []byte) {
		if kind := vision.Container(head); kind != "" && len(head) < 4 {
			t.Fatalf("%q is taken for %s", head, kind)
		}
	})
}
