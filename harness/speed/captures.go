package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
)

// checkpoints is how many the spec asks for.
const checkpoints = 50

// frameHz is the console's rate, for lengths only.
const frameHz = 39375000.0 / 655171

// bench is a card as many capture cards are: progressive 720p, H.264.
const bench = `bench: speed
simulated:
  seed: 11
  card: {rate: 60000/1001, width: 1280, height: 720, active: [160, 0, 960, 720], codec: h264, quality: 23, chroma: 420, noise: 2.5}
`

// walk keeps the street moving: to and fro for as many reads as are asked for.
func walk(reads int) string {
	const there, back = 90, 82
	return fmt.Sprintf("program 1\nrest 52\ntap start\nrest 40\nrepeat %d\n  hold right for %d\n  hold left for %d\nend\n",
		max(1, (reads-93)/(there+back)), there, back)
}

// captures plays the two long runs, unless they are there.
func (l *lab) captures(minutes float64) error {
	reads := int(minutes * 60 * frameHz)
	if err := l.write("walk.prog", walk(reads)); err != nil {
		return err
	}
	if err := l.write("walk.spec.yaml", "version: 1\nspec: walk\nprogram: walk.prog\nconsole: ntsc-8bit\nrepeats: 2\ntimeout: 2h\n"); err != nil {
		return err
	}
	if err := l.write("bench.yaml", bench); err != nil {
		return err
	}
	if _, err := os.Stat(l.runDir("two") + "/run.json"); err != nil {
		l.note("playing twice: %.1f minutes, 1280x720, H.264", minutes)
		if _, err := l.run(l.bin, "play", "--quiet", "--bench", l.path("bench.yaml"), "--out", l.path("played"), l.path("walk.spec.yaml")); err != nil {
			return err
		}
	}
	return l.spec(reads)
}

// runDir is the run folder of one of the two.
func (l *lab) runDir(name string) string {
	return l.path("played", "walk", map[string]string{"one": "run-001", "two": "run-002"}[name])
}

// spec cuts templates from the first run and asks for them on frames spread
// over the whole of it: every third near its place, every third anywhere, the
// rest somewhere in a range of frames.
func (l *lab) spec(reads int) error {
	seen, err := l.seen("one")
	if err != nil {
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "version: 1\nspec: walk\nprogram: walk.prog\nconsole: ntsc-8bit\nrepeats: 1\n")
	if err := l.cut(150, seen, "anchor.png", "0,112,64,64"); err != nil {
		return err
	}
	b.WriteString("checkpoints:\n")
	for i := range checkpoints {
		want := 200 + i*(reads-400)/checkpoints
		f := seen.from(want)
		name := fmt.Sprintf("t%02d", i)
		x, y := 24+(i*37)%180, 112+(i*13)%48
		if err := l.cut(f, seen, name+".png", fmt.Sprintf("%d,%d,24,24", x, y)); err != nil {
			return err
		}
		switch i % 3 {
		case 0:
			fmt.Fprintf(&b, "  - {name: c%02d, at: %d, shows: {template: %s, near: [%d, %d], within: 2}}\n", i, f, name, x, y)
		case 1:
			fmt.Fprintf(&b, "  - {name: c%02d, at: %d, shows: {template: %s}}\n", i, f, name)
		default:
			fmt.Fprintf(&b, "  - {name: c%02d, at: [%d, %d], shows: {template: %s, near: [%d, %d], within: 2}}\n", i, f-5, f+5, name, x, y)
		}
	}
	return l.write("judge.spec.yaml", b.String())
}

func (l *lab) cut(frame int, seen frames, name, rect string) error {
	if _, err := os.Stat(l.path(name)); err == nil {
		return nil
	}
	_, err := l.run(l.bin, "template", "cut", l.runDir("one"), "--frame", fmt.Sprint(seen.from(frame)), "--rect", rect, "-o", l.path(name))
	return err
}

// frames are those that a run has a picture of.
type frames map[int]bool

// from is the first of them at or after a frame.
func (s frames) from(f int) int {
	for ; len(s) > 0 && !s[f]; f++ {
	}
	return f
}

// seen reads frames.csv of a run.
func (l *lab) seen(name string) (frames, error) {
	src, err := os.ReadFile(l.runDir(name) + "/frames.csv")
	if err != nil {
		return nil, err
	}
	out := frames{}
	for _, line := range strings.Split(string(src), "\n")[1:] {
		f := strings.Split(line, ",")
		var n int
		if len(f) == 4 && f[3] == "fresh" {
			if _, err := fmt.Sscan(f[2], &n); err == nil {
				out[n] = true
			}
		}
	}
	return out, nil
}

func (l *lab) null() (cost, error) {
	return l.run("ffmpeg", "-v", "error", "-i", l.runDir("one")+"/capture.mkv", "-f", "null", "-")
}

// judging: a recorded run with 50 checkpoints, all of which must pass, against
// decoding alone.
func (l *lab) judging() error {
	return l.against(fmt.Sprintf("judge, %d checkpoints", checkpoints), 1.10, func() (cost, error) {
		c, err := l.run(l.bin, "judge", "--quiet", "--json", l.runDir("one"), "--spec", l.path("judge.spec.yaml"))
		if err == nil {
			err = allPass(c.out)
		}
		return c, err
	}, l.null)
}

func allPass(out string) error {
	var v struct {
		Verdict     string
		Checkpoints []struct{ Name, Verdict, Why string }
	}
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		return err
	}
	if len(v.Checkpoints) != checkpoints {
		return fmt.Errorf("%d checkpoints were judged, not %d", len(v.Checkpoints), checkpoints)
	}
	for _, c := range v.Checkpoints {
		if c.Verdict != "pass" {
			return fmt.Errorf("checkpoint %s: %s: %s", c.Name, c.Verdict, c.Why)
		}
	}
	return nil
}

// importing: the video with its read log, against decoding alone.
func (l *lab) importing() error {
	return l.against("import", 1.10, func() (cost, error) { return l.take("one", "taken") }, l.null)
}

// take imports the video of a run anew.
func (l *lab) take(name, as string) (cost, error) {
	out := l.path(as)
	if err := os.RemoveAll(out); err != nil {
		return cost{}, err
	}
	return l.run(l.bin, "import", "--quiet", l.runDir(name)+"/capture.mkv", "--reads", l.runDir(name)+"/reads.csv",
		"--bench", l.path("bench.yaml"), "--anchor", "150="+l.path("anchor.png"), "--out", out)
}

func (l *lab) ssim() (cost, error) {
	return l.run("ffmpeg", "-v", "error", "-i", l.runDir("one")+"/capture.mkv", "-i", l.runDir("two")+"/capture.mkv", "-lavfi", "ssim", "-f", "null", "-")
}

// comparing: two captures, from their sealed runs and from the bare videos.
func (l *lab) comparing() error {
	sealed := func() (cost, error) {
		return l.run(l.bin, "compare", "--quiet", l.runDir("one"), l.runDir("two"))
	}
	if err := l.against("compare two sealed runs", 0.5, sealed, l.ssim); err != nil {
		return err
	}
	return l.against("import both and compare", 0.5, func() (cost, error) {
		a, err := l.take("one", "taken")
		if err != nil {
			return a, err
		}
		b, err := l.take("two", "taken2")
		if err != nil {
			return b, err
		}
		c, err := l.runOK([]int{0, 3}, l.bin, "compare", "--quiet", l.path("taken"), l.path("taken2"))
		c.wall, c.cpu, c.peak = a.wall+b.wall+c.wall, a.cpu+b.cpu+c.cpu, max(a.peak, b.peak, c.peak)
		return c, err
	}, l.ssim)
}
