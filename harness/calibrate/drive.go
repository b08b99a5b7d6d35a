package calibrate

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"latchproof/harness"
	"latchproof/harness/feeder"
	"latchproof/specs"
	"latchproof/specs/program"
)

// syncs is how many time exchanges are made before and again after a run.
const syncs = 64

// record is what is left of one run.
type record struct {
	number  int // repeat number given to the bench, from 1
	press   bool
	board   feeder.Identity
	latches []feeder.Latch
	syncs   []feeder.Sync
	stamps  []time.Duration // of the pictures of the file
	outcome feeder.Outcome
	video   string // empty: there is none
}

// play plays one run. What came to pass is given together with an error.
func (o Options) play(ctx context.Context, number int, press bool, runs []program.Run) (rec *record, err error) {
	rec = &record{number: number, press: press}
	session, err := o.Bench.Open(ctx, number)
	if err != nil {
		return rec, err
	}
	defer func() {
		if e := session.Close(); err == nil && e != nil {
			err = fmt.Errorf("closing the bench: %w", e)
		}
	}()
	client := feeder.NewClient(session.Link(), session.Clock(), o.Link)
	defer client.Close()
	if rec.board, err = client.Hello(ctx); err != nil {
		return rec, err
	}
	if rec.syncs, err = client.Sync(ctx, syncs); err != nil {
		return rec, err
	}
	var capture harness.Capture
	if capture = session.Capture(); capture != nil {
		path := filepath.Join(o.Dir, fmt.Sprintf("check-%03d.mkv", number))
		if err := capture.Start(ctx, path); err != nil {
			return rec, fmt.Errorf("capture: %w", err)
		}
		rec.video = path
	}
	start := feeder.StartReset
	if o.Spec.Start == specs.StartPower {
		start = feeder.StartPower
	}
	rec.outcome, err = client.Play(ctx, feeder.PlayRequest{
		Runs: runs, Reads: o.Spec.Program.Reads(), Tail: int64(max(o.Spec.Tail, 0)),
		BurstGap: o.Spec.Console.BurstGap, LatchActive: o.Spec.Console.LatchActive, Start: start,
	}, func(l feeder.Latch) { rec.latches = append(rec.latches, l) })
	if err == nil {
		var more []feeder.Sync
		more, err = client.Sync(ctx, syncs)
		rec.syncs = append(rec.syncs, more...)
	}
	if capture != nil {
		var e error
		if rec.stamps, e = capture.Stop(context.WithoutCancel(ctx)); e != nil {
			err = errors.Join(err, fmt.Errorf("capture: %w", e))
			rec.video = ""
		}
	}
	return rec, errors.Join(err, rec.save(o.Dir))
}

// save writes the read log beside the capture, in the form that `import` reads.
func (r *record) save(dir string) (err error) {
	f, err := os.Create(filepath.Join(dir, fmt.Sprintf("check-%03d.reads.csv", r.number)))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := csv.NewWriter(f)
	rows := [][]string{{"index", "time_us", "clocks", "p1", "p2"}}
	for _, l := range r.latches {
		rows = append(rows, []string{
			strconv.FormatInt(l.Index, 10), strconv.FormatInt(l.Micros, 10), strconv.Itoa(int(l.Clocks)),
			strconv.Itoa(int(l.P1)), strconv.Itoa(int(l.P2)),
		})
	}
	return w.WriteAll(rows)
}
