package lockstep

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"slices"

	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Tree sorts runs into families as they are added. A family is a set of runs
// that stayed in lockstep with its first run; a run is compared with the first
// run of all, and when it parts from that one, only with the few families most
// like it that parted at the same place, and only from there on. So the work
// grows with the number of runs; each further family of the same place costs a
// look at four pictures.
type Tree struct {
	opt    Options
	names  []string
	all    []*family
	report Result
	first  *Divergence
	latest Member
}

type family struct {
	rep      Run
	members  []string
	from     console.Frame
	parted   *Divergence // from the parent; nil for the first
	parent   *family
	children []*family
	// signs are the pictures of rep after it parted, to find the family that a
	// run is most like.
	signs []Features
}

// NewTree makes an empty tree.
func NewTree(opt Options) *Tree { return &Tree{opt: opt} }

// Add compares a run with the representatives and puts it into its family. The
// run's trace must stay open while the tree is used. On an error (ErrUnseen,
// ErrLayout, ErrTrace) the run is not in the tree.
func (t *Tree) Add(r Run) error {
	for _, n := range t.names {
		if n == r.Name {
			return fmt.Errorf("%s is in the tree already", r.Name)
		}
	}
	if len(t.all) == 0 {
		if !r.Trace.Layout().valid() {
			return fmt.Errorf("%s: raster %v", r.Name, r.Trace.Layout())
		}
		t.all = []*family{{rep: r, members: []string{r.Name}}}
		t.names = []string{r.Name}
		t.report.Frames = int64(r.last()) + 1
		t.latest = Member{Run: r.Name, Founder: true, Frames: t.report.Frames}
		return nil
	}
	home := t.all[0]
	rep, err := CompareWith(home.rep, r, t.opt)
	if err != nil {
		return err
	}
	d := rep.Divergence
	for d != nil {
		next, nd, err := t.closest(home, r, d)
		if err != nil {
			return err
		}
		if next == nil {
			break
		}
		home, d = next, nd
	}
	m := Member{
		Run: r.Name, Family: slices.Index(t.all, home), Frames: int64(r.last()) + 1, Unseen: rep.Unseen,
		Life: lifeOf(r.Name, rep), Suspects: rep.Suspects, Warnings: rep.Warnings,
	}
	if d == nil {
		t.join(m)
		return nil
	}
	f := &family{rep: r, from: d.Frame, parted: d, parent: home}
	if d.Kind != KindEnd {
		if f.signs, err = signsOf(r, d.Frame); err != nil {
			return err
		}
	}
	home.children = append(home.children, f)
	t.all = append(t.all, f)
	m.Family, m.Founder = len(t.all)-1, true
	t.join(m)
	return nil
}

// Member is what the tree knows of a run besides its pictures.
type Member struct {
	Run     string
	Family  int   // index of its family
	Founder bool  // the first of its family, with which others are compared
	Frames  int64 // console frames that it covers
	// Of the comparison with the first run; empty for that one itself.
	Unseen   int64
	Life     Life
	Suspects []Suspect
	Warnings []string
}

// Latest is the run that was added last.
func (t *Tree) Latest() Member { return t.latest }

// Restore puts a run back that another tree had added, without comparing it; m
// is what Latest said of it then. Founders are put back with Add. A tree to which
// the same runs are given back in the same order is as it was, since what becomes
// of a run hangs on the founders before it alone.
func (t *Tree) Restore(m Member) error {
	if m.Founder || m.Family < 0 || m.Family >= len(t.all) {
		return fmt.Errorf("%s cannot be restored: it founded family %d of %d, or is of one that is not there", m.Run, m.Family+1, len(t.all))
	}
	if slices.Contains(t.names, m.Run) {
		return fmt.Errorf("%s is in the tree already", m.Run)
	}
	t.join(m)
	return nil
}

// join enters a run that was compared with the first one.
func (t *Tree) join(m Member) {
	t.names = append(t.names, m.Run)
	t.all[m.Family].members = append(t.all[m.Family].members, m.Run)
	t.report.Frames = max(t.report.Frames, m.Frames)
	t.report.Unseen += m.Unseen
	t.report.Lives = append(t.report.Lives, m.Life)
	t.report.Suspects = append(t.report.Suspects, m.Suspects...)
	t.report.Warnings = append(t.report.Warnings, m.Warnings...)
	if d := m.Life.Parted; d != nil && (t.first == nil || d.Frame < t.first.Frame) {
		t.first = d
	}
	t.latest = m
}

const (
	// signFrames is how many pictures after the parting tell how like two
	// families are; nearest is how many of the most like ones a run is compared
	// with frame by frame, at each level of the tree.
	signFrames = 4
	nearest    = 3
)

// closest looks among the families that left home where the run does for the
// one it stays with longest; nil when it stays with none of them beyond the
// frame where they left. Only the few most like it are compared, from where they
// left on.
func (t *Tree) closest(home *family, r Run, d *Divergence) (*family, *Divergence, error) {
	type candidate struct {
		f    *family
		away float64
	}
	var likely []candidate
	var signs []Features
	for _, c := range home.children {
		if c.parted.Frame < d.Since || d.Frame < c.parted.Since || (c.parted.Kind == KindEnd) != (d.Kind == KindEnd) {
			continue
		}
		if d.Kind == KindEnd {
			if c.rep.last() == r.last() || c.rep.EndedEarly && r.EndedEarly && near(c.rep.last(), r.last()) {
				return c, nil, nil
			}
			continue
		}
		if signs == nil {
			var err error
			if signs, err = signsOf(r, d.Frame); err != nil {
				return nil, nil, err
			}
		}
		likely = append(likely, candidate{c, c.away(signs, d.Frame)})
	}
	slices.SortStableFunc(likely, func(x, y candidate) int { return cmp.Compare(x.away, y.away) })
	var best *family
	var bestD *Divergence
	for _, k := range likely[:min(len(likely), nearest)] {
		c := k.f
		start := max(d.Frame, c.parted.Frame)
		rep, _, err := compareFrom(c.rep, r, start, t.opt)
		if err == nil {
			err = unseen(c.rep, r, rep, nil)
		}
		if errors.Is(err, ErrUnseen) {
			continue
		}
		if err != nil {
			return nil, nil, err
		}
		if rep.Divergence == nil {
			return c, nil, nil
		}
		if rep.Divergence.Frame > start && (best == nil || rep.Divergence.Frame > bestD.Frame) {
			best, bestD = c, rep.Divergence
		}
	}
	return best, bestD, nil
}

// signsOf gives the pictures of a run in the frames from one on; those that it
// did not see are empty.
func signsOf(r Run, from console.Frame) ([]Features, error) {
	c, err := r.Trace.Open()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.Name, err)
	}
	defer c.Close()
	if err := c.Seek(from); err != nil {
		return nil, fmt.Errorf("%s: %w", r.Name, err)
	}
	out := make([]Features, signFrames)
	var p Picture
	for i := range out {
		if err := c.Next(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, fmt.Errorf("%s: %w", r.Name, err)
		}
		if p.Sight == Seen {
			out[i] = slices.Clone(p.Features)
		}
	}
	return out, nil
}

// away is the mean difference of pictures of the same frames, Units; far when
// there are none.
func (f *family) away(signs []Features, from console.Frame) float64 {
	sum, n := 0, 0
	for i, x := range signs {
		k := i + int(from-f.parted.Frame)
		if k < 0 || k >= len(f.signs) || len(f.signs[k]) != len(x) {
			continue
		}
		for j, v := range f.signs[k] {
			sum += int(size(int32(v) - int32(x[j])))
		}
		n += len(x)
	}
	if n == 0 {
		return maxFeature
	}
	return float64(sum) / float64(n)
}

func near(a, b console.Frame) bool { return max(a-b, b-a) <= tailMargin }

// Families is how many families there are so far.
func (t *Tree) Families() int { return len(t.all) }

// Result is what the tree found; doc.go has its JSON form.
type Result struct {
	Runs   []string
	Frames int64 // console frames that the longest run covers
	// Unseen is how many frames could not be compared with the first run
	// because one of the two did not see them, summed over the runs.
	Unseen     int64
	Divergence *Divergence // the earliest from the first run; nil in lockstep
	Line       int         // program line in force at Divergence.Read, 0 unknown
	Families   []Family
	Suspects   []Suspect
	Warnings   []string
	// Lives are how long every run but the first stayed in lockstep with the
	// first, in the order in which they were added. They are not in the JSON.
	Lives []Life
}

// Life is how long a run stayed in lockstep with the first.
type Life struct {
	Run string
	// Frame is where it parts, or the last frame on which both were seen to
	// agree; -1 when there is none.
	Frame  console.Frame
	Parted *Divergence // nil when it did not part
}

func lifeOf(name string, rep Report) Life {
	if d := rep.Divergence; d != nil {
		return Life{name, d.Frame, d}
	}
	return Life{name, rep.Last, nil}
}

// Lockstep says whether all runs are one family.
func (r Result) Lockstep() bool { return r.Divergence == nil }

// Family is a set of runs in lockstep.
type Family struct {
	Runs   []string
	From   console.Frame // 0 for the first family, else where it parted
	Parent int           // index of the family it parted from, -1 for the first
	Parted *Divergence   // how it parted; nil for the first
}

// Result gives what is known so far.
func (t *Tree) Result() Result {
	out := t.report
	out.Runs = append([]string(nil), t.names...)
	out.Lives = append([]Life(nil), t.report.Lives...)
	out.Divergence = t.first
	if t.first != nil && t.opt.LineOf != nil && t.first.Read >= 0 {
		out.Line = t.opt.LineOf(t.first.Read)
	}
	index := map[*family]int{nil: -1}
	for i, f := range t.all {
		index[f] = i
		out.Families = append(out.Families, Family{
			Runs: append([]string(nil), f.members...), From: f.from, Parent: index[f.parent], Parted: f.parted,
		})
	}
	return out
}

type jsonDivergence struct {
	Frame       console.Frame `json:"frame"`
	Since       console.Frame `json:"since"`
	Read        program.Read  `json:"read"`
	Kind        Kind          `json:"kind"`
	Shift       int           `json:"shift"`
	Stays       bool          `json:"stays"`
	Part        Part          `json:"part"`
	Region      [4]int        `json:"region"`
	ProgramLine int           `json:"program_line"`
	A           string        `json:"a"`
	B           string        `json:"b"`
	Why         string        `json:"why"`
}

type jsonFamily struct {
	Runs   []string      `json:"runs"`
	From   console.Frame `json:"from"`
	Parent int           `json:"parent"`
}

type jsonResult struct {
	Runs       []string        `json:"runs"`
	Frames     int64           `json:"frames"`
	Unseen     int64           `json:"unseen"`
	Lockstep   bool            `json:"lockstep"`
	Divergence *jsonDivergence `json:"divergence"`
	Families   []jsonFamily    `json:"families"`
	Suspects   int             `json:"suspects"`
	Warnings   []string        `json:"warnings,omitempty"`
}

// MarshalJSON gives the form of `compare --json`; see doc.go.
func (r Result) MarshalJSON() ([]byte, error) {
	out := jsonResult{
		Runs: r.Runs, Frames: r.Frames, Unseen: r.Unseen, Lockstep: r.Lockstep(),
		Families: []jsonFamily{}, Suspects: len(r.Suspects), Warnings: r.Warnings,
	}
	if out.Runs == nil {
		out.Runs = []string{}
	}
	if d := r.Divergence; d != nil {
		out.Divergence = &jsonDivergence{
			Frame: d.Frame, Since: d.Since, Read: d.Read, Kind: d.Kind,
			Shift: d.Shift, Stays: d.Stays, Part: d.Part,
			Region: rect(d.Region), ProgramLine: r.Line, A: d.A, B: d.B, Why: d.Why,
		}
	}
	for _, f := range r.Families {
		out.Families = append(out.Families, jsonFamily{f.Runs, f.From, f.Parent})
	}
	return json.Marshal(out)
}

func rect(r image.Rectangle) [4]int {
	return [4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()}
}
