package live

import (
	"context"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"latchproof/fixtures/demo"
	"latchproof/harness/checks"
	"latchproof/harness/clock"
	"latchproof/harness/feeder"
	"latchproof/specs"
)

// BenchmarkLive records 720p60 for five seconds in real time and judges the nine
// checkpoints of the demo meanwhile, as `play --live` does: of Motion JPEG with
// noise, some 160 kB a picture, and of YUYV. cpu-s/s is user and system time of the
// whole process for each second (1 is one core); lost and skipped are pictures.
// Run it with -benchtime 1x.
func BenchmarkLive(b *testing.B) {
	for _, f := range []struct {
		name, codec, pixels string
		format              Format
		early               bool
	}{
		{"MJPEG/recorded", "mjpeg", "yuvj422p", MJPEG, false},
		{"MJPEG/judged", "mjpeg", "yuvj422p", MJPEG, true},
		{"YUYV/recorded", "rawvideo", "yuyv422", YUYV, false},
		{"YUYV/judged", "rawvideo", "yuyv422", YUYV, true},
	} {
		b.Run(f.name, func(b *testing.B) { benchmarkLive(b, f.codec, f.pixels, f.format, f.early) })
	}
}

const (
	benchRate   = 60
	benchLength = 5 * time.Second
)

// paced gives pictures in real time, over and over, without reading or copying
// them: what a driver would do for itself.
type paced struct {
	info     Info
	pictures [][]byte
	begin    time.Duration
	n        int
}

func (p *paced) Info() Info { return p.info }
func (p *paced) Next(ctx context.Context) (Buffer, error) {
	at := p.begin + time.Duration(p.n)*time.Second/benchRate
	select {
	case <-time.After(at - now()):
	case <-ctx.Done():
		return Buffer{}, ctx.Err()
	}
	p.n++
	return Buffer{Data: p.pictures[p.n%len(p.pictures)], Format: p.info.Format, Seq: uint64(p.n), Flags: HasSeq, Stamp: at}, nil
}
func (p *paced) Close() error { return nil }

func cpu() time.Duration {
	var r syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &r)
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

func benchmarkLive(b *testing.B, codec, pixels string, format Format, early bool) {
	dir := b.TempDir()
	if err := demo.Write(dir); err != nil {
		b.Fatal(err)
	}
	spec, err := specs.Load(filepath.Join(dir, "first-lamp.spec.yaml"), checks.All)
	if err != nil {
		b.Fatal(err)
	}

	out, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=1280x720:rate=60",
		"-vf", "noise=alls=6:allf=t", "-frames:v", "24", "-pix_fmt", pixels, "-c:v", codec, "-q:v", "3", "-f", "image2", filepath.Join(dir, "p%03d")).CombinedOutput()
	if err != nil {
		b.Skipf("no pictures: %v: %s", err, out)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "p[0-9][0-9][0-9]"))
	source := &paced{info: Info{Name: "paced", Format: format, Size: image.Pt(1280, 720), Rate: benchRate}}
	bytes := 0
	for _, f := range files {
		src, err := os.ReadFile(f)
		if err != nil {
			b.Fatal(err)
		}
		bytes += len(src)
		source.pictures = append(source.pictures, src)
	}
	var used, wall time.Duration
	var account Account
	for range b.N {
		source.begin, source.n = now(), 0
		c := New(Options{Open: func(context.Context) (Source, error) { return source, nil }, Now: now})
		var e *Early
		if early {
			micros := func(t time.Duration) int64 { return t.Microseconds() }
			e, err = NewEarly(EarlyOptions{Spec: spec, Active: image.Rect(160, 0, 1120, 720), Rate: benchRate,
				Latency: clock.Around(40*time.Millisecond, 100*time.Microsecond),
				Syncs:   []feeder.Sync{{Sent: source.begin, Received: source.begin + time.Millisecond, Micros: micros(source.begin)}}})
			if err != nil {
				b.Fatal(err)
			}
			c.View(e.Picture)
		}
		u, w := cpu(), now()
		if err := c.Start(context.Background(), filepath.Join(dir, "capture.mkv")); err != nil {
			b.Fatal(err)
		}
		period := spec.Console.Rate.Period()
		for n := 0; now()-source.begin < benchLength; n++ {
			at := source.begin + time.Duration(float64(n)*period*1e9)
			time.Sleep(at - now())
			if e != nil {
				e.Latch(feeder.Latch{Index: int64(n), Micros: at.Microseconds(), Clocks: 8}, now())
			}
		}
		if _, err := c.Stop(context.Background()); err != nil {
			b.Fatal(err)
		}
		used, wall, account = used+cpu()-u, wall+now()-w, c.Report()
		if e != nil {
			if _, err := e.Finish(); err != nil {
				b.Fatal(err)
			}
		}
		if err := c.Close(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(used.Seconds()/wall.Seconds(), "cpu-s/s")
	b.ReportMetric(float64(account.Ours), "lost")
	b.ReportMetric(float64(account.Skipped), "skipped")
	b.ReportMetric(float64(bytes)/float64(len(source.pictures))/1e3, "kB/picture")
	b.ReportMetric(0, "ns/op")
}
