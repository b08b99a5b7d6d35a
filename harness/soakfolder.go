package harness

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/harness/soak"
	"latchproof/specs"
	"latchproof/specs/console"
)

// ResumeSoak goes on with the soak in the player's output folder, with the spec
// and the bench that its header names. Repeats that were finished are not played
// again; what the policy keeps of them is brought up to date. Call Close.
//
// Errors: soak.ErrOther when something is not what the soak began with, those of
// soak.Open, of the records and of the system.
func ResumeSoak(p *Player, s *specs.Spec, benchFile string) (_ *Soak, err error) {
	journal, c, err := soak.Open(p.Out)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, journal.Close())
		}
	}()
	subject, err := soakSubject(p.Bench, s, benchFile)
	if err != nil {
		return nil, err
	}
	if err := c.Header.Same(subject); err != nil {
		return nil, fmt.Errorf("%s: %w", p.Out, err)
	}
	k := newSoak(p, s, c.Header)
	k.journal = journal
	if err := os.RemoveAll(k.bin()); err != nil {
		return nil, err
	}
	for _, e := range c.Entries {
		if err := k.restore(e); err != nil {
			return nil, err
		}
	}
	return k, nil
}

// Extend lets the soak play more repeats than its header says, in this process.
func (k *Soak) Extend(most int) { k.header.Most = max(k.header.Most, most) }

// restore takes an entry of the journal as if its repeat had been played now.
func (k *Soak) restore(e soak.Entry) error {
	k.undone = 0
	if e.Outcome == soak.Stopped {
		k.undone = e.Repeat
	}
	if c := e.Compared; c != nil {
		k.assume(e)
		m := c.Member(soak.Name(e.Repeat))
		if !m.Founder {
			if err := k.tree.Restore(m); err != nil {
				return fmt.Errorf("%w: %s: %w", soak.ErrDamaged, soak.FileName, err)
			}
		} else if err := k.refound(e); err != nil {
			return err
		}
	}
	if e.Outcome == soak.Reference {
		var err error
		if k.board, err = k.boardOf(k.dir(e.Repeat)); err != nil {
			return err
		}
	}
	drops, whole := k.keeper.After(e)
	k.tally.Add(e, whole)
	return k.drop(drops)
}

// refound puts the first run of a family back into the tree.
func (k *Soak) refound(e soak.Entry) error {
	run, err := reopen(k.dir(e.Repeat), soak.Name(e.Repeat), k.spec, record.TraceFile)
	if err != nil {
		return err
	}
	run.stopped = e.Compared.Ended
	if err := k.tree.Add(run.Steps()); err != nil {
		return fmt.Errorf("%w: %s: comparing: %w", ErrDamaged, run.Dir, err)
	}
	if m := k.tree.Latest(); !m.Founder || m.Family != e.Compared.Family {
		return fmt.Errorf("%w: %s founds family %d by the journal and is of family %d now", ErrDamaged, run.Dir, e.Compared.Family+1, m.Family+1)
	}
	return nil
}

// found gives the repeat that an earlier process sealed and did not enter; nil
// when there is none. One that was not sealed is entered as stopped.
func (k *Soak) found(n int) (*Run, error) {
	dir := k.dir(n)
	if _, err := os.Lstat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	run, err := k.sealed(n)
	if !errors.Is(err, record.ErrPartial) && !errors.Is(err, record.ErrDamaged) {
		return run, err
	}
	if k.undone == n {
		return nil, k.discard(n)
	}
	return nil, k.put(stoppedEntry(n, err))
}

func (k *Soak) sealed(n int) (*Run, error) {
	if err := record.Verify(k.dir(n)); err != nil {
		return nil, err
	}
	run, err := reopen(k.dir(n), soak.Name(n), k.spec)
	if err == nil && int64(len(run.Reads)) < k.spec.Program.Reads()+int64(k.spec.Tail) {
		run.stopped = "the console stopped reading its controller"
	}
	return run, err
}

// reopen is a sealed run as Play left it, judged as it was then. Files named are
// checked.
func reopen(dir, name string, s *specs.Spec, files ...string) (*Run, error) {
	rec, err := record.OpenFiles(dir, append(files, record.VerdictsFile, record.ReadsFile)...)
	if err != nil {
		return nil, err
	}
	src, err := rec.ReadFile(record.VerdictsFile)
	if err != nil {
		return nil, err
	}
	var v judge.RunVerdict
	if err := json.Unmarshal(src, &v); err != nil {
		return nil, fmt.Errorf("%s: %w", rec.Path(record.VerdictsFile), err)
	}
	run := &Run{
		Name: name, Dir: dir, Spec: s, State: rec.Meta.State, Results: v.Checkpoints, Timing: v.Timing, Clock: v.Clock,
		Counts: v.Captured, Problems: v.Problems, Pictures: v.Captured.Pictures, Last: console.Frame(v.Captured.Frames) - 1,
	}
	latches, err := rec.Reads()
	if err != nil {
		return nil, err
	}
	if len(latches) > 0 && run.Clock.State != clock.Untrusted {
		if run.Reads, err = judge.ReadLog(latches, rec.Meta.Underruns, rec.Meta.Console.Profile()); err != nil {
			return nil, fmt.Errorf("%s: %w", dir, err)
		}
	}
	if rec.Has(record.TraceFile) {
		run.Trace, err = openLater(rec.Path(record.TraceFile))
	}
	return run, err
}

// bin is where a folder is moved to be removed.
func (k *Soak) bin() string { return filepath.Join(SpecFolder(k.player.Out, k.spec), ".stopped") }

// discard sets the folder of a repeat that was stopped aside, or removes it, as
// the policy says.
func (k *Soak) discard(n int) error {
	dir, to := k.dir(n), k.bin()
	if _, err := os.Lstat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if k.header.Keep == soak.All {
		for i := 1; ; i++ {
			to = filepath.Join(filepath.Dir(dir), fmt.Sprintf("stopped-%03d-%d", n, i))
			if _, err := os.Lstat(to); errors.Is(err, fs.ErrNotExist) {
				break
			}
		}
	}
	if err := os.Rename(dir, to); err != nil {
		return err
	}
	if k.header.Keep == soak.All {
		return nil
	}
	return os.RemoveAll(to)
}

// drop removes what the policy does not keep.
func (k *Soak) drop(drops []soak.Drop) error {
	for _, d := range drops {
		var names []string
		if d.Video {
			names = append(names, record.CaptureFile)
		}
		if d.Trace {
			names = append(names, record.TraceFile)
		}
		dir := k.dir(d.Repeat)
		rec, err := record.OpenFiles(dir)
		if rec == nil {
			if errors.Is(err, record.ErrNotRun) || errors.Is(err, record.ErrPartial) {
				continue // it was never begun
			}
			return err
		}
		there := names[:0]
		for _, name := range names {
			if _, err := os.Lstat(rec.Path(name)); err == nil {
				there = append(there, name)
			}
		}
		if len(there) == 0 {
			continue
		}
		if _, err := record.Drop(dir, k.header.Keep.Why(), there...); err != nil {
			return err
		}
	}
	return nil
}

// laterTrace is a trace file that is open only while it is read, for a soak with
// more families than a process may have open files.
type laterTrace struct {
	path   string
	layout lockstep.Layout
	frames console.Frame
}

func openLater(path string) (*laterTrace, error) {
	f, err := lockstep.OpenTrace(path)
	if err != nil {
		return nil, err
	}
	return &laterTrace{path, f.Layout(), f.Len()}, f.Close()
}

// reopening closes the trace of a run and gives it as one that is opened anew.
func reopening(run *Run) (lockstep.Trace, error) {
	c, ok := run.Trace.(io.Closer)
	if !ok {
		return run.Trace, nil
	}
	if err := c.Close(); err != nil {
		return nil, err
	}
	return openLater(filepath.Join(run.Dir, record.TraceFile))
}

func (t *laterTrace) Layout() lockstep.Layout { return t.layout }
func (t *laterTrace) Len() console.Frame      { return t.frames }

func (t *laterTrace) Open() (lockstep.Cursor, error) {
	f, err := lockstep.OpenTrace(t.path)
	if err != nil {
		return nil, err
	}
	c, err := f.Open()
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return laterCursor{c, f}, nil
}

type laterCursor struct {
	lockstep.Cursor
	file io.Closer
}

func (c laterCursor) Close() error { return errors.Join(c.Cursor.Close(), c.file.Close()) }

// stoppedEntry is of a repeat whose process ended while it was on.
func stoppedEntry(n int, why error) soak.Entry {
	text := oneLine(why)
	var p *record.PartialError
	if errors.As(why, &p) {
		text = fmt.Sprintf("it was stopped %s: %s", p.Where, p.Why)
	}
	return soak.Entry{Repeat: n, Outcome: soak.Stopped, At: now(), Why: text}
}

// now is an instant as the journal keeps it.
func now() time.Time { return time.Now().UTC().Truncate(time.Millisecond) }
