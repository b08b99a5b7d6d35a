package record

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"latchproof/harness/durable"
	"latchproof/harness/feeder"
)

// Rows of reads.csv reach the operating system after this many, or after this
// time.
const (
	flushRows  = 64
	flushAfter = 500 * time.Millisecond
)

// roomName is a file that keeps room bytes of the disk free for run.json, so that
// a run that fills the disk can still say so.
const (
	roomName = ".room"
	room     = 32 << 10
)

// Writer writes one run. It is safe for use from several goroutines.
type Writer struct {
	dir string

	mu      sync.Mutex
	meta    Meta
	closed  bool
	reads   *os.File
	buf     *bufio.Writer
	two     bool // reads.csv has the column clocks2
	pending int  // rows not flushed
	last    int64
	timer   *time.Timer
	failed  error // the first write error of reads.csv
}

// Create begins a run in dir, which must not exist or be empty; parents are
// made. It writes run.json with state "playing" first, then the copies of the
// spec and the program. Errors: ErrExists, ErrFull, or those of the system.
func Create(dir string, m Meta, spec, prog []byte) (*Writer, error) {
	fail := func(err error) (*Writer, error) {
		return nil, fmt.Errorf("begin run %s: %w", dir, durable.Plain(err))
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o777); err != nil {
		return fail(err)
	}
	if err := os.Mkdir(dir, 0o777); errors.Is(err, fs.ErrExist) {
		inside, err := os.ReadDir(dir)
		if err != nil {
			return fail(err)
		}
		if len(inside) > 0 {
			return fail(ErrExists)
		}
	} else if err != nil {
		return fail(err)
	}
	m.Format, m.State, m.Files, m.Stopped, m.Ended = FormatVersion, Playing, nil, nil, nil
	m.Spec.SHA256, m.Program.SHA256 = durable.Sum(spec), durable.Sum(prog)
	m.Damage = slices.Clone(m.Damage)
	w := &Writer{dir: dir, meta: m, last: -1}
	if err := w.save(); err != nil {
		return fail(err)
	}
	if err := durable.SyncDir(filepath.Dir(dir)); err != nil {
		return fail(err)
	}
	for name, src := range map[string][]byte{SpecFile: spec, ProgramFile: prog} {
		if err := os.WriteFile(w.Path(name), src, 0o666); err != nil {
			return fail(err)
		}
	}
	f, err := os.Create(w.Path(ReadsFile))
	if err != nil {
		return fail(err)
	}
	w.reads, w.buf = f, bufio.NewWriter(f)
	if _, err := f.WriteString(readsHead(false)); err != nil {
		f.Close()
		return fail(err)
	}
	if err := os.WriteFile(w.Path(roomName), make([]byte, room), 0o666); err != nil {
		f.Close()
		return fail(err)
	}
	return w, nil
}

// Dir is the run's folder.
func (w *Writer) Dir() string { return w.dir }

// Path is where the file of that name lies. The capture card writes its own
// file to Path(CaptureFile).
func (w *Writer) Path(name string) string { return filepath.Join(w.dir, name) }

// AppendLatch adds a row to reads.csv. Indexes must rise; where they do so by
// more than one the records between are lost, and the row of a gap is written
// first. Once a write failed every later call gives the same error; the rows
// before stay.
func (w *Writer) AppendLatch(l feeder.Latch) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return w.wrap(ErrClosed)
	}
	if w.failed != nil {
		return w.failed
	}
	if w.last >= 0 && l.Index <= w.last {
		return w.wrap(fmt.Errorf("latch %d follows %d: out of order", l.Index, w.last))
	}
	if needsPort2(l) && !w.two {
		if err := w.widen(); err != nil {
			w.failed = w.wrap(err)
			return w.failed
		}
	}
	var row []byte
	if w.last >= 0 && l.Index != w.last+1 {
		row = appendGap(row, w.last+1, w.two)
	}
	if _, err := w.buf.Write(appendLatch(row, l, w.two)); err != nil {
		w.failed = w.wrap(err)
		return w.failed
	}
	w.last = l.Index
	w.pending++
	if w.pending >= flushRows {
		return w.flush()
	}
	if w.timer == nil {
		w.timer = time.AfterFunc(flushAfter, func() {
			w.mu.Lock()
			defer w.mu.Unlock()
			if !w.closed && w.reads != nil {
				w.flush() // an error is kept in w.failed for the next call
			}
		})
	}
	return nil
}

// Flush hands every row to the operating system now.
func (w *Writer) Flush() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return nil
	}
	return w.flush()
}

func (w *Writer) flush() error {
	if w.timer != nil {
		w.timer.Stop()
		w.timer = nil
	}
	if w.failed != nil {
		return w.failed
	}
	w.pending = 0
	if err := w.buf.Flush(); err != nil {
		w.failed = w.wrap(err)
	}
	return w.failed
}

// widen writes reads.csv again with the column clocks2, for the first latch
// that needs it. The rows so far are replaced in one step.
func (w *Writer) widen() error {
	if err := w.buf.Flush(); err != nil {
		return err
	}
	src, err := os.ReadFile(w.Path(ReadsFile))
	if err != nil {
		return err
	}
	latches, err := ParseReads(w.Path(ReadsFile), src)
	if err != nil {
		return err
	}
	out := formatReads(latches, true)
	temp := w.Path("." + ReadsFile + ".tmp")
	f, err := os.Create(temp)
	if err != nil {
		return err
	}
	if _, err = f.Write(out); err == nil {
		err = os.Rename(temp, w.Path(ReadsFile))
	}
	if err != nil {
		f.Close()
		os.Remove(temp)
		return err
	}
	w.reads.Close()
	w.reads, w.two, w.pending = f, true, 0
	w.buf.Reset(f)
	return nil
}

// Amend changes what run.json says, for facts that are known only after the
// run began (the board's identity). Format, state and hashes are not touched
// by it.
func (w *Writer) Amend(change func(*Meta)) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return w.wrap(ErrClosed)
	}
	m := w.meta
	change(&m)
	m.Format, m.State, m.Files, m.Stopped = FormatVersion, Playing, nil, nil
	m.Spec.SHA256, m.Program.SHA256 = w.meta.Spec.SHA256, w.meta.Program.SHA256
	w.meta = m
	return w.wrap(w.save())
}

// Damage notes a sentence about evidence that is incomplete; it is written
// with the next change of run.json.
func (w *Writer) Damage(what string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.meta.Damage = append(slices.Clip(w.meta.Damage), what)
}

// Note adds a sentence about what happened, of which no evidence is missing; it
// is written with the next change of run.json.
func (w *Writer) Note(what string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.meta.Notes = append(slices.Clip(w.meta.Notes), what)
}

// SetUnderruns says which latch pulses the board served without program data;
// it is written with the next change of run.json.
func (w *Writer) SetUnderruns(latches []int64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.meta.Underruns = slices.Clone(latches)
}

// SetSyncs writes syncs.csv.
func (w *Writer) SetSyncs(syncs []feeder.Sync) error {
	return w.put(SyncsFile, FormatSyncs(syncs))
}

// SetFrames writes frames.csv.
func (w *Writer) SetFrames(rows []FrameRow) error {
	return w.put(FramesFile, FormatFrames(rows))
}

// SetVerdicts writes verdicts.json: v as indented JSON.
func (w *Writer) SetVerdicts(v any) error {
	src, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return w.wrap(err)
	}
	return w.put(VerdictsFile, append(src, '\n'))
}

func (w *Writer) put(name string, src []byte) error {
	return w.WriteFile(name, func(out io.Writer) error {
		_, err := out.Write(src)
		return err
	})
}

// WriteFile writes a file of the run as a stream. name is relative to the
// folder and stays in it; folders on its way are made. reads.csv and run.json
// are not written so.
func (w *Writer) WriteFile(name string, write func(io.Writer) error) (err error) {
	w.mu.Lock()
	closed := w.closed
	w.mu.Unlock()
	if closed {
		return w.wrap(ErrClosed)
	}
	if !goodName(name) || name == ReadsFile {
		return w.wrap(fmt.Errorf("%q is not a name for a file of a run", name))
	}
	if err := os.MkdirAll(filepath.Dir(w.Path(name)), 0o777); err != nil {
		return w.wrap(err)
	}
	f, err := os.Create(w.Path(name))
	if err != nil {
		return w.wrap(err)
	}
	buf := bufio.NewWriterSize(f, 1<<16)
	if err = write(buf); err == nil {
		err = buf.Flush()
	}
	return w.wrap(errors.Join(err, f.Close()))
}

// Seal ends a whole run: it closes reads.csv, syncs and hashes every file of
// the folder, and writes run.json with state "sealed" last. When it fails the
// run stays unsealed and Abort may be called.
func (w *Writer) Seal(r Result) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return w.wrap(ErrClosed)
	}
	if err := w.closeReads(); err != nil {
		return err
	}
	os.Remove(w.Path(tempName)) // of a save that failed
	os.Remove(w.Path(roomName))
	files, err := sumAll(w.dir, true)
	if err != nil {
		return w.wrap(err)
	}
	before := w.meta
	w.meta.State, w.meta.Files, w.meta.Ended = Sealed, files, &r.Ended
	w.meta.Damage = append(slices.Clip(w.meta.Damage), r.Damage...)
	if len(r.Clock) > 0 {
		w.meta.Clock = r.Clock
	}
	if err := w.save(); err != nil {
		w.meta = before
		return w.wrap(err)
	}
	w.closed = true
	return nil
}

// Abort ends a run that is not whole: run.json says where and why with state
// "partial". Everything written so far stays. Calling it after Seal or Abort
// does nothing.
func (w *Writer) Abort(where, why string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return nil
	}
	os.Remove(w.Path(roomName))
	readsErr := w.closeReads()
	ended := time.Now()
	w.meta.State, w.meta.Stopped, w.meta.Ended = Partial, &Stopped{where, why}, &ended
	w.closed = true
	return errors.Join(readsErr, w.wrap(w.save()))
}

func (w *Writer) closeReads() error {
	if w.reads == nil {
		return w.failed
	}
	err := w.flush()
	if e := w.reads.Close(); err == nil && e != nil {
		w.failed = w.wrap(e)
		err = w.failed
	}
	w.reads = nil
	return err
}

func (w *Writer) save() error {
	src, err := FormatMeta(w.meta)
	if err != nil {
		return err
	}
	return durable.Replace(w.dir, RunFile, tempName, src)
}

func (w *Writer) wrap(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("run %s: %w", w.dir, durable.Plain(err))
}

// sumAll hashes every file below dir except run.json.
func sumAll(dir string, sync bool) (map[string]Sum, error) {
	out := map[string]Sum{}
	dirs := map[string]bool{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			dirs[path] = true
			return nil
		}
		name, err := filepath.Rel(dir, path)
		if err != nil || name == RunFile {
			return err
		}
		if !d.Type().IsRegular() {
			return fmt.Errorf("%s is not a plain file", name)
		}
		sum, err := sumFile(path, sync)
		out[filepath.ToSlash(name)] = sum
		return err
	})
	if err != nil || !sync {
		return out, err
	}
	for _, d := range slices.Sorted(maps.Keys(dirs)) {
		if err := durable.SyncDir(d); err != nil {
			return out, err
		}
	}
	return out, nil
}
