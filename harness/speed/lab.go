package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// lab is where the commands are run.
type lab struct {
	ctx    context.Context
	dir    string
	rounds int
	bin    string
}

func (l *lab) note(format string, a ...any) { fmt.Fprintf(os.Stderr, format+"\n", a...) }

func (l *lab) path(parts ...string) string {
	return filepath.Join(append([]string{l.dir}, parts...)...)
}

func (l *lab) build() error {
	l.bin = l.path("latchproof")
	_, err := l.run("go", "build", "-o", l.bin, "latchproof/cmd/latchproof")
	return err
}

// cost is what one run of a command took.
type cost struct {
	wall, cpu time.Duration
	peak      int64 // bytes of memory
	out       string
}

// run runs a command. An exit status that the caller names as sound is none of
// an error.
func (l *lab) run(name string, args ...string) (cost, error) { return l.runOK([]int{0}, name, args...) }

func (l *lab) runOK(sound []int, name string, args ...string) (cost, error) {
	cmd := exec.CommandContext(l.ctx, name, args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	begin := time.Now()
	err := cmd.Run()
	c := cost{wall: time.Since(begin), out: out.String()}
	if cmd.ProcessState == nil {
		return c, err
	}
	c.cpu = cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	if ru, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
		c.peak = ru.Maxrss * 1024 // kilobytes on Linux, getrusage(2)
	}
	if err != nil && !slices.Contains(sound, cmd.ProcessState.ExitCode()) {
		return c, fmt.Errorf("%s %s: %w\n%s%s", filepath.Base(name), strings.Join(args, " "), err, tail(out.String()), tail(errs.String()))
	}
	return c, nil
}

func tail(s string) string {
	const most = 2000
	if len(s) > most {
		return "..." + s[len(s)-most:]
	}
	return s
}

func (l *lab) write(name, text string) error {
	return os.WriteFile(l.path(name), []byte(text), 0o644)
}

// against times two commands in turn and prints the ratio of their wall times.
func (l *lab) against(what string, bar float64, ours, theirs func() (cost, error)) error {
	var a, b []cost
	var ratios []float64
	for range l.rounds {
		x, err := ours()
		if err != nil {
			return err
		}
		y, err := theirs()
		if err != nil {
			return err
		}
		a, b = append(a, x), append(b, y)
		ratios = append(ratios, x.wall.Seconds()/y.wall.Seconds())
	}
	r := median(ratios)
	fmt.Printf("%-44s %7.2f s (cpu %7.2f, peak %4d MiB)  against %7.2f s (cpu %7.2f)  ratio %.3f  of %s  bar %.2f %s\n",
		what, median(walls(a)), median(cpus(a)), peak(a)>>20, median(walls(b)), median(cpus(b)), r, spread(ratios), bar, met(r <= bar))
	return nil
}

func met(ok bool) string {
	if ok {
		return "met"
	}
	return "MISSED"
}

func spread(v []float64) string {
	parts := []string{}
	for _, x := range v {
		parts = append(parts, fmt.Sprintf("%.3f", x))
	}
	return strings.Join(parts, " ")
}

func walls(c []cost) (v []float64) {
	for _, x := range c {
		v = append(v, x.wall.Seconds())
	}
	return v
}

func cpus(c []cost) (v []float64) {
	for _, x := range c {
		v = append(v, x.cpu.Seconds())
	}
	return v
}

func peak(c []cost) (p int64) {
	for _, x := range c {
		p = max(p, x.peak)
	}
	return p
}

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}
