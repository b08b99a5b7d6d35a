package lockstep_test

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os/exec"
	"strings"

	. "github.com/onsi/ginkgo/v2"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

// ffmpegAt is the command, "" when it is not installed.
var ffmpegAt, _ = exec.LookPath("ffmpeg")

func needFFmpeg() {
	GinkgoHelper()
	if ffmpegAt == "" {
		Skip("ffmpeg is not installed")
	}
}

// ffmpeg runs the command, gives it in and what it writes to out.
func ffmpeg(in io.Reader, out io.Writer, args ...string) error {
	cmd := exec.Command(ffmpegAt, append([]string{"-hide_banner", "-loglevel", "error", "-nostdin"}, args...)...)
	var note bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = in, out, &note
	if in != nil {
		cmd.Args = append(cmd.Args[:4], cmd.Args[5:]...) // with standard input
	}
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s: %w: %s", strings.Join(args, " "), err, note.String())
	}
	return nil
}

// tracer is a writer of raw yuv444p pictures of full range that makes a trace of
// them.
type tracer struct {
	m   *lockstep.Memory
	buf []byte
	n   console.Frame
}

func (t *tracer) Write(b []byte) (int, error) {
	t.buf = append(t.buf, b...)
	l := t.m.Layout()
	size := 3 * l.W * l.H
	for len(t.buf) >= size {
		s := &screen.Screen{W: l.W, H: l.H, Y: t.buf[:size/3], Cb: t.buf[size/3 : 2*size/3], Cr: t.buf[2*size/3 : size]}
		if err := t.m.Add(t.n, lockstep.Seen, s); err != nil {
			return 0, err
		}
		t.n++
		t.buf = append(t.buf[:0], t.buf[size:]...)
	}
	return len(b), nil
}

// raw gives frames of a scene enlarged as a card does, as yuv444p of full range.
type raw struct {
	s      *scene
	zoom   int
	sigma  float64
	r      *rand.Rand
	frames int
	show   func(f int) (int, change)
	f      int
	buf    []byte
}

func (w *raw) Read(b []byte) (int, error) {
	if len(w.buf) == 0 {
		if w.f == w.frames {
			return 0, io.EOF
		}
		p := w.s.draw(w.show(w.f))
		w.f++
		for i, plane := range [][]byte{p.Y, p.Cb, p.Cr} {
			for y := range p.H * w.zoom {
				row := plane[y/w.zoom*p.W:][:p.W]
				for _, v := range row {
					for range w.zoom {
						if w.sigma > 0 && i == 0 {
							w.buf = append(w.buf, clamp(float64(v)+w.r.NormFloat64()*w.sigma))
							continue
						}
						w.buf = append(w.buf, v)
					}
				}
			}
		}
	}
	n := copy(b, w.buf)
	w.buf = w.buf[n:]
	return n, nil
}

// stream sends a film of a scene through an encoder and back.
func stream(w *raw, encode ...string) (*lockstep.Memory, error) {
	size := fmt.Sprintf("%dx%d", w.s.w*w.zoom, w.s.h*w.zoom)
	var coded bytes.Buffer
	args := append([]string{"-f", "rawvideo", "-pix_fmt", "yuvj444p", "-s", size, "-r", "60", "-i", "-"}, encode...)
	if err := ffmpeg(w, &coded, append(args, "-f", "matroska", "-")...); err != nil {
		return nil, err
	}
	t := &tracer{m: lockstep.NewMemory(lockstep.Layout{W: w.s.w, H: w.s.h})}
	err := ffmpeg(&coded, t, "-f", "matroska", "-i", "-", "-vf", fmt.Sprintf("scale=%d:%d:flags=area", w.s.w, w.s.h), "-pix_fmt", "yuvj444p", "-f", "rawvideo", "-")
	return t.m, err
}

func straight(f int) (int, change) { return f, nothing }

// from gives frames that are otherwise from a frame on.
func from(at int, c change) func(int) (int, change) {
	return func(f int) (int, change) {
		if f >= at {
			return f, c
		}
		return f, nothing
	}
}
