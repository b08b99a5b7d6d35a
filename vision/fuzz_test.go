package vision_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"latchproof/vision"
	"latchproof/vision/screen"
)

// FuzzVideo reads damaged video files from end to end: every picture that the
// packets promise must come, in its place, and end with an end.
func FuzzVideo(f *testing.F) {
	dir := f.TempDir()
	for name, o := range map[string]vision.RecordOptions{
		"mjpeg": {Codec: vision.MJPEG}, "ffv1": {Codec: vision.FFV1, Chroma: vision.Chroma420}, "h264": {Codec: vision.H264, Group: 4},
	} {
		path := filepath.Join(dir, name+".mkv")
		r, err := vision.CreateVideoWith(path, o, 32, 32, 60)
		if err != nil {
			f.Fatal(err)
		}
		for i := range 9 {
			img := imageOf(32, 32, lights(32, 32, uint64(i)).BGR(nil))
			err = errors.Join(err, r.Write(img), img.Close())
		}
		if err = errors.Join(err, r.Close()); err != nil {
			f.Fatal(err)
		}
		src, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
		if exec.Command("ffmpeg", "-v", "error", "-i", path, "-c", "copy", path+".mp4").Run() == nil {
			if src, err = os.ReadFile(path + ".mp4"); err != nil {
				f.Fatal(err)
			}
			f.Add(src)
		}
	}
	f.Add([]byte("YUV4MPEG2 W2 H2 F60:1\nFRAME\n123456FRAME\n654321"))
	path := filepath.Join(dir, "fuzz")
	f.Fuzz(func(t *testing.T, src []byte) {
		if len(src) > 1<<16 {
			return
		}
		if err := os.WriteFile(path, src, 0o600); err != nil {
			t.Fatal(err)
		}
		v, err := vision.OpenVideo(path)
		if err != nil {
			if !errors.Is(err, vision.ErrNoVideo) && !errors.Is(err, vision.ErrEmpty) {
				t.Fatal(err)
			}
			return
		}
		defer v.Close()
		n := len(v.Scan().Stamps)
		var p vision.Picture
		defer p.Close()
		norm := &vision.Normalizer{W: 16, H: 15}
		defer norm.Close()
		s := screen.New(16, 15)
		for pass, from := range []int{0, n / 2} {
			if err := v.Seek(from); err != nil {
				t.Fatal(pass, err)
			}
			for i := from; i < n; i++ {
				if err := v.Read(&p); err != nil || p.Index() != i {
					t.Fatal(pass, i, p.Index(), err)
				}
				if !p.Empty() && p.Size().X <= 2048 && p.Size().Y <= 2048 {
					if err := norm.Picture(&p, vision.Lines(i%3), s); err != nil && !errors.Is(err, vision.ErrSize) && !errors.Is(err, vision.ErrOutside) {
						t.Log(err)
					}
				}
			}
			if err := v.Read(&p); !errors.Is(err, io.EOF) && !errors.Is(err, vision.ErrTruncated) {
				t.Fatal(pass, err)
			}
		}
	})
}

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
