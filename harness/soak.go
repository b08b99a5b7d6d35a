package harness

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"latchproof/harness/clock"
	"latchproof/harness/durable"
	"latchproof/harness/feeder"
	"latchproof/harness/live"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/harness/soak"
	"latchproof/harness/stats"
	"latchproof/specs"
	"latchproof/vision"
)

// Soak plays repeats of one spec until a claim about them is proven or refuted.
// What it does and keeps is documented in package soak. It holds no run but what
// comparing needs of the first of each family.
type Soak struct {
	// Told, when set, is told in one line how far the soak has come, after every
	// repeat.
	Told func(line string)

	player  *Player
	spec    *specs.Spec
	header  soak.Header
	journal *soak.Journal
	tree    *lockstep.Tree
	keeper  soak.Keeper
	tally   soak.Tally
	board   record.Board // of the reference
	// assumed are the reference and the repeats that part, if their frame clocks
	// are not measured ones.
	assumed []string

	row    int    // repeats left out in a row, in this process
	undone int    // the repeat that the journal's last line says was stopped; 0: none
	halt   string // why it ended without an answer
	err    error
}

// SoakOptions are the rules of a soak.
type SoakOptions struct {
	Claim stats.Claim
	Keep  soak.Keep
	// Most is how many repeats are played at most; 0 means MostRepeats.
	Most int
	// Timeout is that of one repeat of a spec that names none; 0 means
	// DefaultTimeout.
	Timeout time.Duration
	// BenchFile is where the bench comes from; empty is the built-in one.
	BenchFile string
}

const (
	// MostRepeats is how many repeats a soak plays at most unless told otherwise.
	MostRepeats = 10_000
	// LeftInRow is after how many repeats in a row that say nothing a soak ends.
	LeftInRow = 20
)

// BeginSoak begins a soak of a spec in the player's output folder. Call Close.
// Errors: those of soak.Create and of the system.
func BeginSoak(p *Player, s *specs.Spec, o SoakOptions) (*Soak, error) {
	subject, err := soakSubject(p.Bench, s, o.BenchFile)
	if err != nil {
		return nil, err
	}
	if o.Most == 0 {
		o.Most = MostRepeats
	}
	if o.Timeout == 0 {
		o.Timeout = DefaultTimeout
	}
	if s.Timeout > 0 {
		o.Timeout = s.Timeout
	}
	k := newSoak(p, s, soak.Header{
		Made: time.Now().UTC().Truncate(time.Second), Version: p.Version, Claim: o.Claim, Keep: o.Keep, Policy: o.Keep.Says(),
		Most: o.Most, Timeout: int64(o.Timeout), Subject: subject,
	})
	if _, err := k.weigh(); err != nil {
		return nil, err
	}
	// Create brings this folder's name to the disk too; the record does so for those
	// of the runs in it.
	if err := os.MkdirAll(SpecFolder(p.Out, s), 0o777); err != nil {
		return nil, err
	}
	k.journal, err = soak.Create(p.Out, k.header)
	return k, err
}

func newSoak(p *Player, s *specs.Spec, h soak.Header) *Soak {
	return &Soak{player: p, spec: s, header: h, keeper: soak.Keeper{Keep: h.Keep}, tree: lockstep.NewTree(Naming(s.Console, s.Program))}
}

// soakSubject is what must stay the same.
func soakSubject(b Bench, s *specs.Spec, benchFile string) (soak.Subject, error) {
	var out soak.Subject
	info := b.Describe()
	bench, err := json.Marshal(info)
	if err != nil {
		return out, err
	}
	hash := func(path string) (string, error) {
		src, err := os.ReadFile(path)
		return durable.Sum(src), err
	}
	file := func(name, path string) (soak.File, error) {
		path, err := filepath.Abs(path)
		if err != nil {
			return soak.File{}, err
		}
		sum, err := hash(path)
		return soak.File{Name: name, Path: path, SHA256: sum}, err
	}
	out = soak.Subject{ProgramHash: s.Program.Hash(), Files: map[string]string{}, Bench: bench}
	if out.Spec, err = file(s.Name, s.File); err != nil {
		return out, err
	}
	if out.Program, err = file(s.ProgramFile, filepath.Join(s.Dir, s.ProgramFile)); err != nil {
		return out, err
	}
	for _, name := range s.Files() {
		if out.Files[name], err = hash(filepath.Join(s.Dir, name)); err != nil {
			return out, err
		}
	}
	if benchFile == "" {
		return out, nil
	}
	f, err := file("", benchFile)
	if err != nil {
		return out, err
	}
	out.BenchFile = f.Path
	if info.Simulated {
		out.BenchHash = f.SHA256
	}
	return out, nil
}

// Close ends the writing of the journal.
func (k *Soak) Close() error { return k.journal.Close() }

func (k *Soak) weigh() (stats.Weighing, error) {
	return k.header.Claim.Weigh(k.tally.Parted, k.tally.Trials())
}

// Run plays repeats until the claim is proven or refuted, as many as there may be
// were played, nothing more can be said (see doc.go of package soak), or the
// context ends. A repeat that an earlier process finished and did not enter is
// entered first. Every repeat is on the disk and in the journal before the next
// begins.
//
// The error is one of the journal, of the records or of the system; how the soak
// stands is told all the same.
func (k *Soak) Run(ctx context.Context) error {
	for k.err == nil && k.halt == "" {
		w, err := k.weigh()
		if err != nil {
			return err
		}
		n := k.tally.Last + 1
		if w.Proven || w.Refuted || n > k.header.Most {
			return nil
		}
		if ctx.Err() != nil {
			k.halt = "it was interrupted"
			return nil
		}
		k.err = k.repeat(ctx, n)
		if isFull(k.err) {
			k.halt, k.err = "the disk is full; make room and resume: "+oneLine(k.err), nil
		}
	}
	return k.err
}

// repeat plays or finds one repeat, and enters it.
func (k *Soak) repeat(ctx context.Context, n int) error {
	run, err := k.found(n)
	if err != nil {
		return err
	}
	if run == nil {
		limit, cancel := context.WithTimeout(ctx, time.Duration(k.header.Timeout))
		run, err = k.player.Play(limit, k.spec, n, k.header.Most)
		cancel()
	}
	e := soak.Entry{Repeat: n, At: now()}
	switch {
	case err == nil:
		defer run.Close()
		if err = k.enter(&e, run); err != nil {
			return err
		}
	case ctx.Err() != nil:
		e.Outcome, e.Why = soak.Stopped, oneLine(err)
		k.halt = "it was interrupted"
	case isFull(err):
		e.Outcome, e.Why = soak.Stopped, oneLine(err)
		k.halt = "the disk is full; make room and resume"
	case run == nil: // nothing can be played at all
		return err
	default:
		e.Outcome, e.Why, e.Trouble = soak.Left, oneLine(err), true
		if isGone(err) {
			k.halt = "the bench is gone: " + oneLine(err)
		}
	}
	return k.put(e)
}

// put enters a repeat in the journal and does what follows from it.
func (k *Soak) put(e soak.Entry) error {
	if err := k.journal.Append(e); err != nil {
		return err
	}
	if e.Outcome == soak.Stopped {
		k.tally.Add(e, false)
		return k.discard(e.Repeat)
	}
	if e.Outcome == soak.Left {
		if k.row++; k.row == LeftInRow && k.halt == "" {
			k.halt = fmt.Sprintf("the last %d repeats say nothing, the last of them because %s", k.row, e.Why)
		}
	} else {
		k.row = 0
	}
	drops, whole := k.keeper.After(e)
	k.tally.Add(e, whole)
	w, err := k.weigh()
	if err != nil {
		return err
	}
	if k.Told != nil {
		k.Told(k.tally.Line(w))
	}
	return k.drop(drops)
}

// enter compares a run that was played to its end and says what became of it.
func (k *Soak) enter(e *soak.Entry, run *Run) error {
	e.Trouble = len(run.Problems) > 0
	e.Assumed = run.Clock.State == clock.Assumed
	for _, r := range run.Results {
		judged(e, r.Name, string(r.Verdict))
	}
	if run.Timing != nil {
		judged(e, "timing", string(run.Timing.Verdict))
	}
	why := run.Comparable()
	board, err := k.boardOf(run.Dir)
	if err != nil {
		return err
	}
	if k.tally.Reference > 0 && board != k.board {
		why = fmt.Errorf("it was played by another board (%s), and the reference by %s", boardText(board), boardText(k.board))
		k.halt = "the board is another: " + why.Error()
	}
	if why == nil {
		run.Trace, err = reopening(run)
		if err != nil {
			return err
		}
		if err = k.tree.Add(run.Steps()); errors.Is(err, lockstep.ErrUnseen) {
			why = err
		} else if err != nil {
			return fmt.Errorf("%w: %s: comparing: %w", ErrDamaged, run.Dir, err)
		}
	}
	if why != nil {
		e.Outcome, e.Why = soak.Left, oneLine(why)
		return nil
	}
	m := k.tree.Latest()
	e.Compared = soak.ComparedOf(m, run.stopped)
	k.assume(*e)
	switch d := m.Life.Parted; {
	case k.tally.Reference == 0:
		e.Outcome, k.board = soak.Reference, board
	case d == nil:
		e.Outcome = soak.Clean
	case SurelyParted(m.Life, k.assumed):
		e.Outcome = soak.Parted
	default:
		e.Outcome, e.Why = soak.Left, fmt.Sprintf("it seems to part at frame %d, but %s", d.Frame, doubtOf(d))
	}
	return nil
}

// assume notes a repeat that was compared, if its frame clock matters.
func (k *Soak) assume(e soak.Entry) {
	if e.Assumed && (k.tally.Reference == 0 || e.Compared.Parted != nil) {
		k.assumed = append(k.assumed, soak.Name(e.Repeat))
	}
}

// doubtOf says why a parting is not sure.
func doubtOf(d *lockstep.Divergence) string {
	switch why := Doubtful(d); {
	case why != "":
		return why
	case d.Kind == lockstep.KindEnd:
		return "it is the capture card that ended it"
	}
	return "a frame clock is assumed, so its frames may be one off"
}

func judged(e *soak.Entry, name, verdict string) {
	e.Asked++
	switch verdict {
	case "fail":
		e.Failed = append(e.Failed, name)
	case "unseen":
		e.Unseen = append(e.Unseen, name)
	}
}

func (k *Soak) dir(n int) string { return filepath.Join(SpecFolder(k.player.Out, k.spec), runName(n)) }

func (k *Soak) boardOf(dir string) (record.Board, error) {
	rec, err := record.OpenFiles(dir)
	if err != nil {
		return record.Board{}, err
	}
	if rec.Meta.Board == nil {
		return record.Board{}, nil
	}
	return *rec.Meta.Board, nil
}

func boardText(b record.Board) string {
	return fmt.Sprintf("serial %q, revision %q, firmware %q", b.Serial, b.Board, b.Firmware)
}

// isFull says whether an error means a full disk.
func isFull(err error) bool {
	for _, full := range []error{record.ErrFull, soak.ErrFull, vision.ErrDiskFull, syscall.ENOSPC, syscall.EDQUOT} {
		if errors.Is(err, full) {
			return true
		}
	}
	return false
}

// isGone says whether an error means that no further repeat can be played.
func isGone(err error) bool {
	for _, gone := range []error{feeder.ErrGone, feeder.ErrPort, feeder.ErrProtocol, live.ErrGone, live.ErrNoCard} {
		if errors.Is(err, gone) {
			return true
		}
	}
	return false
}
