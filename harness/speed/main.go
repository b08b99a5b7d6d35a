package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
)

type options struct {
	minutes float64
	rounds  int
	sealed  []int
	frames  int
	keep    string
}

func main() {
	var o options
	flag.Float64Var(&o.minutes, "minutes", 10, "length of the capture")
	flag.IntVar(&o.rounds, "rounds", 3, "how often each pair of commands is timed; 0: only the sealed runs are")
	sealed := flag.String("sealed", "2,10,100", "how many sealed runs are compared at once; empty: none")
	flag.IntVar(&o.frames, "frames", 36000, "length of the sealed runs")
	flag.StringVar(&o.keep, "keep", "", "folder for the captures and runs, kept afterwards; what is there is used again")
	flag.Parse()
	for _, s := range strings.FieldsFunc(*sealed, func(r rune) bool { return r == ',' }) {
		n, err := strconv.Atoi(s)
		if err != nil || n < 2 {
			fmt.Fprintf(os.Stderr, "speed: --sealed: %q is not a number of runs, 2 or more\n", s)
			os.Exit(2)
		}
		o.sealed = append(o.sealed, n)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := measure(ctx, o); err != nil {
		fmt.Fprintln(os.Stderr, "speed:", err)
		os.Exit(1)
	}
}

func measure(ctx context.Context, o options) error {
	dir := o.keep
	if dir == "" {
		var err error
		if dir, err = os.MkdirTemp("", "speed-"); err != nil {
			return err
		}
		defer os.RemoveAll(dir)
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		return errors.New("ffmpeg is needed: apt-get install ffmpeg")
	}
	l := &lab{ctx: ctx, dir: dir, rounds: o.rounds}
	l.note("building latchproof")
	if err := l.build(); err != nil {
		return err
	}
	if err := l.captures(o.minutes); err != nil {
		return err
	}
	steps := []func() error{l.judging, l.importing, l.comparing}
	if o.rounds < 1 {
		steps = nil
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return l.sealed(o.sealed, o.frames)
}
