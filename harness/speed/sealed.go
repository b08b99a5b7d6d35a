package main

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"runtime"
	"sync"
	"time"

	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs/console"
)

const (
	noiseLevels = 0.5   // standard deviation of what a copy adds to each block mean, levels
	unseenRate  = 0.004 // of the frames of a copy
)

// sealed compares ever more sealed runs.
func (l *lab) sealed(counts []int, frames int) error {
	if len(counts) == 0 {
		return nil
	}
	most := 0
	for _, n := range counts {
		most = max(most, n)
	}
	dirs, err := l.copies(most, frames)
	if err != nil {
		return err
	}
	var per []float64
	for _, n := range counts {
		c, err := l.run(l.bin, append([]string{"compare", "--quiet"}, dirs[:n]...)...)
		if err != nil {
			return err
		}
		per = append(per, c.wall.Seconds()/float64(n-1))
		fmt.Printf("compare %3d sealed runs of %d frames        %7.2f s (cpu %7.2f)  %.3f s for each run after the first  peak %4d MiB  bar 512 MiB %s\n",
			n, frames, c.wall.Seconds(), c.cpu.Seconds(), per[len(per)-1], c.peak>>20, met(c.peak < 512<<20))
	}
	last := per[len(per)-1] / per[0]
	fmt.Printf("time for each run after the first, most runs against fewest: %.2f; linear is 1 or less (%s at 1.2)\n", last, met(last <= 1.2))
	return nil
}

// copies makes runs that are the first capture's, each with noise and unseen
// frames of its own.
func (l *lab) copies(n, frames int) ([]string, error) {
	src, err := lockstep.OpenTrace(l.runDir("one") + "/" + record.TraceFile)
	if err != nil {
		return nil, err
	}
	from, err := record.OpenFiles(l.runDir("one"))
	if err != nil {
		return nil, err
	}
	l.note("making %d runs of %d frames", n, frames)
	dirs := make([]string, n)
	errs := make([]error, n)
	var wg sync.WaitGroup
	room := make(chan struct{}, runtime.NumCPU())
	for i := range dirs {
		dirs[i] = l.path("sealed", fmt.Sprintf("run-%03d-of-%d-frames", i+1, frames))
		if _, err := os.Stat(dirs[i] + "/run.json"); err == nil {
			continue
		}
		wg.Add(1)
		go func() {
			defer wg.Done()
			room <- struct{}{}
			defer func() { <-room }()
			errs[i] = l.copyRun(src, from, dirs[i], frames, uint64(i+1))
		}()
	}
	wg.Wait()
	return dirs, errors.Join(errs...)
}

func (l *lab) copyRun(src *lockstep.TraceFile, from *record.Run, dir string, frames int, seed uint64) error {
	var copies [2][]byte
	for i, name := range []string{record.SpecFile, record.ProgramFile} {
		var err error
		if copies[i], err = from.ReadFile(name); err != nil {
			return err
		}
	}
	latches, err := from.Reads()
	if err != nil {
		return err
	}
	// A run that was cut off in its making is no use.
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	m := from.Meta
	w, err := record.Create(dir, record.Meta{
		Spec: m.Spec, Program: m.Program, Console: m.Console, Start: m.Start, Repeat: int(seed), Bench: m.Bench, Started: time.Now(),
	}, copies[0], copies[1])
	if err != nil {
		return err
	}
	for _, x := range latches {
		if err := w.AppendLatch(x); err != nil {
			return err
		}
	}
	f, err := os.Create(w.Path(record.TraceFile))
	if err == nil {
		err = errors.Join(noisy(l, src, f, frames, seed), f.Close())
	}
	if err != nil {
		return errors.Join(err, w.Abort("copying the trace", err.Error()))
	}
	return w.Seal(record.Result{Ended: time.Now(), Clock: m.Clock})
}

// noisy writes a copy of a trace. A trace shorter than frames begins again from
// its 100th frame, when the street is there.
func noisy(l *lab, src *lockstep.TraceFile, dst io.Writer, frames int, seed uint64) error {
	rng := rand.New(rand.NewPCG(seed, 7))
	var noise [1 << 16]int16
	for i := range noise {
		noise[i] = int16(rng.NormFloat64() * noiseLevels / lockstep.Unit)
	}
	out, err := lockstep.NewTraceWriter(dst, src.Layout())
	if err != nil {
		return err
	}
	c, err := src.Open()
	if err != nil {
		return err
	}
	defer c.Close()
	var p lockstep.Picture
	var own lockstep.Features
	for f := console.Frame(0); f < console.Frame(frames); f++ {
		if f%1024 == 0 && l.ctx.Err() != nil {
			return l.ctx.Err()
		}
		err := c.Next(&p)
		if errors.Is(err, io.EOF) {
			if err = c.Seek(100); err == nil {
				err = c.Next(&p)
			}
		}
		if err != nil {
			return err
		}
		if p.Sight != lockstep.Seen || rng.Float64() < unseenRate {
			err = out.AddFeatures(f, lockstep.Unseen, nil)
		} else {
			own = append(own[:0], p.Features...)
			at := rng.IntN(len(noise))
			for i, v := range own {
				own[i] = uint16(min(max(int(v)+int(noise[(at+i)&(len(noise)-1)]), 0), 1020))
			}
			err = out.AddFeatures(f, lockstep.Seen, own)
		}
		if err != nil {
			return err
		}
	}
	return out.Close()
}
