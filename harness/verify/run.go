package verify

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"time"

	"latchproof/harness"
	"latchproof/harness/clock"
	"latchproof/harness/evidence"
	"latchproof/harness/judge"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/specs/program"
	"latchproof/vision/screen"
)

// run is a run of the bundle, as far as it was looked at.
type run struct {
	name, bench string
	rec         *record.Run
	told        judge.RunVerdict
	in          judge.Input
	screens     map[int]*screen.Screen
	judged      *evidence.Judged
	trace       *lockstep.TraceFile
	found       judge.RunVerdict // what judging anew came to
}

// steps are what is looked at of a run, in order.
var steps = []struct {
	what string
	look func(v *verifier, r *run) (found string, err error)
}{
	{"record", (*verifier).record},
	{"reads", (*verifier).reads},
	{"clock", (*verifier).clock},
	{"trace", (*verifier).trace},
	{"pictures", (*verifier).pictures},
	{"verdicts", (*verifier).verdicts},
}

// look looks at a run. Each step needs those before it.
func (v *verifier) look(r *run, videos bool) bool {
	ok := true
	for _, s := range steps {
		if !ok {
			v.r.add(s.what, r.name, Skipped, "")
			continue
		}
		v.begin(s.what, r.name)
		found, err := s.look(v, r)
		ok = v.r.check(s.what, r.name, err, found)
	}
	r.screens = nil
	if _, there := v.videos[r.name]; there && videos {
		if !ok {
			v.r.add("video", r.name, Skipped, "")
			return false
		}
		v.begin("video", r.name)
		found, err := v.video(r)
		return v.r.check("video", r.name, err, found)
	}
	if ok {
		for _, x := range r.judged.Rests {
			v.r.RestsOnVideo = append(v.r.RestsOnVideo, Resting{r.name, x.What, x.Why})
		}
		v.r.note("that repeats and damaged pictures are named rightly in frames.csv, and that no picture contradicts the clock, rests on the videos")
	}
	return ok
}

// most are how large the files of a run are read at most, bytes.
var most = map[string]int64{
	record.RunFile: 4 << 20, record.SpecFile: 4 << 20, record.ProgramFile: 4 << 20,
	record.ReadsFile: 64 << 20, record.FramesFile: 64 << 20, record.SyncsFile: 1 << 20,
	record.ServiceFile: 64 << 20, record.VerdictsFile: 16 << 20, record.TraceFile: 1 << 30,
}

// needed are the files that every run has.
var needed = []string{
	record.RunFile, record.SpecFile, record.ProgramFile, record.ReadsFile, record.FramesFile,
	record.SyncsFile, record.VerdictsFile, record.TraceFile,
}

func (v *verifier) record(r *run) (string, error) {
	files := v.below(r.name)
	for _, name := range needed {
		if !slices.Contains(files, name) {
			return "", broken("%s is missing", name)
		}
	}
	for _, name := range files {
		limit, ok := most[name]
		switch {
		case !ok:
			return "", broken("%s is nothing that a run holds in a bundle", name)
		case v.b.Size(r.name+"/"+name) > limit:
			return "", broken("%s is larger than any run has it", name)
		}
	}
	dir := filepath.Join(v.temp, filepath.FromSlash(r.name))
	if err := v.b.Extract(dir, r.name+"/"); err != nil {
		return "", err
	}
	sealed := slices.DeleteFunc(slices.Clone(files), func(n string) bool { return n == record.RunFile })
	rec, err := record.OpenFiles(dir, sealed...)
	if err != nil {
		return "", plainly(err)
	}
	m := rec.Meta
	for name := range m.Files {
		if name != record.CaptureFile && !slices.Contains(files, name) {
			return "", broken("%s was sealed and is missing", name)
		}
	}
	if m.Files[record.CaptureFile].SHA256 != v.sums[r.name+"/"+record.CaptureFile] {
		return "", broken("run.json and the certificate name different videos")
	}
	if err := v.played(rec); err != nil {
		return "", err
	}
	if err := v.benched(r, rec); err != nil {
		return "", err
	}
	src, err := rec.ReadFile(record.VerdictsFile)
	if err != nil {
		return "", err
	}
	if err := json.Unmarshal(src, &r.told); err != nil {
		return "", broken("%s: %v", record.VerdictsFile, err)
	}
	if r.in, err = harness.RecordedInput(rec, v.claim.Spec); err != nil {
		return "", plainly(err)
	}
	if err := measured(r.in); err != nil {
		return "", err
	}
	r.rec = rec
	return "", nil
}

// Limits of what is computed with: a run that lasts far longer than its reads, or
// has far more pictures, is none.
const (
	mostSyncs = 4096
	slack     = 10 * time.Minute // for start and end, and pauses in which the console does not read
)

// measured refuses times that no run has, before a clock is fitted to them.
func measured(in judge.Input) error {
	n := len(in.Latches)
	if n == 0 || len(in.Stamps) == 0 {
		return broken("there are no reads, or no pictures")
	}
	if len(in.Syncs) > mostSyncs {
		return broken("%d time exchanges, at most %d", len(in.Syncs), mostSyncs)
	}
	limit := slack + time.Duration(float64(n)*4*in.Console.Rate.Period()*1e9)
	if d := in.Latches[n-1].Micros - in.Latches[0].Micros; d > limit.Microseconds() {
		return broken("%d latch pulses last %d us", n, d)
	}
	first, last := slices.Min(in.Stamps), slices.Max(in.Stamps)
	if first < -most100years || last > most100years || last-first > 2*limit {
		return broken("the pictures last from %v to %v", first, last)
	}
	if rate := float64(len(in.Stamps)) / (limit.Seconds() + 1); rate > 1000 {
		return broken("%d pictures are more than a card takes", len(in.Stamps))
	}
	return nil
}

// most100years keeps sums of times from running over.
const most100years = 100 * 365 * 24 * time.Hour

// plainly makes an error about the contents of a run one about the bundle.
func plainly(err error) error {
	if isOutside(err) {
		return err
	}
	return broken("%v", err)
}

// played says whether the run is of this spec, program and console.
func (v *verifier) played(rec *record.Run) error {
	m, c := rec.Meta, v.claim
	spec, err := rec.ReadFile(record.SpecFile)
	if err != nil {
		return err
	}
	if !bytes.Equal(spec, c.specSource) {
		return broken("its spec is not spec/%s", c.SpecFile)
	}
	src, err := rec.ReadFile(record.ProgramFile)
	if err != nil {
		return err
	}
	if !bytes.Equal(src, c.program) {
		return broken("its program is not claim/%s", c.Claim.Program)
	}
	p, err := c.programOf(record.ProgramFile, src)
	if err != nil {
		return broken("%v", err)
	}
	switch profile := c.Spec.Console; {
	case m.Program.Hash != p.Hash() || m.Program.Reads != p.Reads():
		return broken("run.json names another program than program.prog is")
	case m.Spec.Name != c.Spec.Name || m.Start != c.Spec.Start:
		return broken("run.json names another spec, or another start")
	case !same(record.FromProfile(profile), m.Console):
		return broken("it was played on another console than the spec's, %s", profile.Name)
	case m.State != record.Sealed:
		return broken("it is %s and not sealed", m.State)
	}
	return nil
}

// benched holds run.json against the bench's own file.
func (v *verifier) benched(r *run, rec *record.Run) error {
	name := "benches/" + r.bench + ".json"
	src, err := v.b.ReadFile(name, mostBench)
	if err != nil {
		return err
	}
	var file struct {
		Bench json.RawMessage `json:"bench"`
		Board *record.Board   `json:"board"`
	}
	if err := json.Unmarshal(src, &file); err != nil {
		return broken("%s: %v", name, err)
	}
	if !same(file.Bench, rec.Meta.Bench) {
		return broken("run.json names another bench than %s", name)
	}
	if !same(file.Board, rec.Meta.Board) {
		return broken("run.json names another feeder board than %s", name)
	}
	return nil
}

// reads holds the read log against the program.
func (v *verifier) reads(r *run) (string, error) {
	p, tail := v.claim.Program, int64(v.claim.Spec.Tail)
	if n := len(r.rec.Meta.Underruns); n > 0 {
		return "", broken("the board had no program data for %d latch pulses", n)
	}
	events := clock.Group(r.in.Latches, r.in.Console.BurstGap)
	if n := int64(len(events)); n < p.Reads() {
		return "", broken("%d reads, and the program has %d", n, p.Reads())
	} else if n > p.Reads()+tail+1 {
		return "", broken("%d reads, and the program with its tail has %d", n, p.Reads()+tail)
	}
	for i, e := range events {
		want := p.At(program.Read(i))
		switch {
		case e.Lost > 0:
			return "", broken("%d log records are missing before read %d", e.Lost, i)
		case e.Mixed:
			return "", broken("the latch pulses of read %d were not all served the same", i)
		case e.State != want:
			return "", broken("read %d was served p1 0x%02x, p2 0x%02x, and the program says p1 0x%02x, p2 0x%02x",
				i, e.State.P1, e.State.P2, want.P1, want.P2)
		}
	}
	return fmt.Sprintf("%d reads", len(events)), nil
}

// clock judges the run anew from its kept pictures, which fits the clock anew.
func (v *verifier) clock(r *run) (string, error) {
	var told clock.Summary
	if err := json.Unmarshal(r.rec.Meta.Clock, &told); err != nil {
		return "", broken("run.json: clock: %v", err)
	}
	var err error
	if r.screens, err = v.screens(r); err != nil {
		return "", err
	}
	if r.judged, err = evidence.Judge(v.ctx, r.in, r.screens); err != nil {
		return "", plainly(err)
	}
	w := r.judged.Watched
	found := w.Clock.Summary()
	if at := differ(told, found); at != "" {
		return "", broken("run.json's clock is not the one that the reads and stamps give: %s", at)
	}
	if at := differ(r.told.Clock, found); at != "" {
		return "", broken("the clock of verdicts.json is not the one that the reads and stamps give: %s", at)
	}
	for i, row := range r.in.Known.Rows {
		if got := w.Rows[i]; got != row {
			return "", broken("picture %d is %s in frames.csv, and %s by the clock", i, rowText(row), rowText(got))
		}
	}
	if at := differ(r.told.Captured, w.Counts); at != "" {
		return "", broken("what verdicts.json says was captured differs: %s", at)
	}
	return fmt.Sprintf("%s, %d frames, %d without a picture", found.State, w.Counts.Frames, w.Counts.Unseen), nil
}

func rowText(r record.FrameRow) string {
	if r.Frame == record.NoFrame {
		return string(r.State)
	}
	return fmt.Sprintf("%s, of frame %d", r.State, r.Frame)
}

// screens reads the kept pictures of a run, by capture index.
func (v *verifier) screens(r *run) (map[int]*screen.Screen, error) {
	out := map[int]*screen.Screen{}
	folder := "pictures/" + path.Join(r.bench, path.Base(r.name))
	w, h := r.in.Console.Width, r.in.Console.Height
	files := v.below(folder)
	if len(files) > evidence.MostPictures(w, h) {
		return nil, broken("%d pictures, at most %d", len(files), evidence.MostPictures(w, h))
	}
	for _, name := range files {
		k, ok := evidence.Index(name)
		if !ok || k >= len(r.in.Known.Rows) {
			return nil, broken("%s/%s is no picture of the capture", folder, name)
		}
		src, err := v.b.ReadFile(folder+"/"+name, evidence.MaxBytes(w, h))
		if err != nil {
			return nil, err
		}
		if out[k], err = evidence.Decode(src, w, h); err != nil {
			return nil, broken("%s/%s: %v", folder, name, err)
		}
	}
	return out, nil
}

// pictures says whether all that are needed are there, and of their frames.
func (v *verifier) pictures(r *run) (string, error) {
	rows := r.in.Known.Rows
	results := slices.Clone(r.judged.Results)
	if len(results) != len(r.told.Checkpoints) {
		return "", broken("verdicts.json has %d verdicts, and the spec has %d checkpoints", len(r.told.Checkpoints), len(results))
	}
	for i := range results { // which frame decided is for verdicts.json to say
		results[i].Frame = r.told.Checkpoints[i].Frame
	}
	for _, k := range evidence.Wanted(v.claim.Spec, rows, results, r.told.Timing, 0) {
		if r.screens[k] == nil && rows[k].State != record.Damaged {
			return "", broken("picture %d, which a verdict rests on, is missing", k)
		}
	}
	loose, err := evidence.Tie(r.trace, rows, r.screens)
	if err != nil {
		return "", plainly(err)
	}
	if len(loose) > 0 && v.claim.Spec.Anchor == nil {
		return "", broken("picture %d stands for no frame", loose[0])
	}
	return fmt.Sprintf("%d pictures", len(r.screens)), nil
}

// verdicts holds what was judged against what is found anew.
func (v *verifier) verdicts(r *run) (string, error) {
	w := r.judged.Watched
	if err := evidence.Same(v.claim.Spec, r.told.Checkpoints, w.Results, false); err != nil {
		return "", err
	}
	if err := evidence.SameTime(r.told.Timing, w.Timing); err != nil {
		return "", err
	}
	results := slices.Clone(w.Results)
	for i := range results {
		if results[i].Away > 0 { // what is told of them was held against what there is
			results[i].Verdict = r.told.Checkpoints[i].Verdict
		}
	}
	r.found = judge.NewRunVerdict(r.name, results, w.Timing, w.Clock.Summary(), w.Counts, nil)
	if r.found.Verdict != r.told.Verdict {
		return "", broken("the verdict of the run is told as %s and found as %s", r.told.Verdict, r.found.Verdict)
	}
	return fmt.Sprintf("%d checkpoints, %d frames from %s to %s", len(results), w.Timing.Frames, w.Timing.From.Event, w.Timing.To.Event), nil
}
