package soak

import (
	"fmt"
	"image"
	"math"
	"time"

	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// Outcome is what became of a repeat.
type Outcome string

// The outcomes. Clean and Parted are the trials of the claim.
const (
	Reference Outcome = "reference" // the first that could be compared
	Clean     Outcome = "clean"     // it stayed in lockstep with the reference
	Parted    Outcome = "parted"    // it surely parted from it
	Left      Outcome = "left out"  // it says nothing: Why
	Stopped   Outcome = "stopped"   // it was not played to its end, and will be played again: Why
)

// Entry is one line of the journal: a repeat that was finished, or stopped.
type Entry struct {
	Repeat  int       `json:"repeat"` // number, from 1
	Outcome Outcome   `json:"outcome"`
	At      time.Time `json:"at"`
	Why     string    `json:"why,omitempty"`
	// Compared is nil for a repeat that could not be compared. One that parts
	// doubtfully was compared, and is left out all the same.
	Compared *Compared `json:"compared,omitempty"`
	// Of the checkpoints, and the timing: how many were asked for, and the names
	// of those that did not pass.
	Asked  int      `json:"asked"`
	Failed []string `json:"failed,omitempty"`
	Unseen []string `json:"unseen,omitempty"`
	// Trouble: the run itself tells of problems, or was not sealed.
	Trouble bool `json:"trouble,omitempty"`
	// Assumed: its frame clock is not a measured one.
	Assumed bool `json:"assumed,omitempty"`
}

// Compared is what the comparison made of a repeat; see lockstep.Member.
type Compared struct {
	Family  int   `json:"family"`
	Founder bool  `json:"founder,omitempty"`
	Frames  int64 `json:"frames"`
	Unseen  int64 `json:"unseen"`
	// Until is the lifetime: the frame where it parts, or the last frame on which
	// it was seen to agree with the reference; -1 when there is none.
	Until    int64     `json:"until"`
	Parted   *Parting  `json:"parted,omitempty"`
	Suspects []Suspect `json:"suspects,omitempty"` // at most 20
	Warnings []string  `json:"warnings,omitempty"` // at most 20
	// Ended says why the console stopped before the program's end; empty when it
	// did not.
	Ended string `json:"ended,omitempty"`
}

// Parting is a lockstep.Divergence from the reference.
type Parting struct {
	Frame  int64   `json:"frame"`
	Since  int64   `json:"since"`
	Read   int64   `json:"read"`
	Kind   string  `json:"kind"`
	Shift  int     `json:"shift,omitempty"`
	Stays  bool    `json:"stays,omitempty"`
	Clocks bool    `json:"clocks,omitempty"`
	Part   string  `json:"part,omitempty"`
	Region [4]int  `json:"region"` // x, y, width, height on the raster
	A      string  `json:"a"`
	Why    string  `json:"why"`
	Score  float64 `json:"score"`
}

// Suspect is a lockstep.Suspect.
type Suspect struct {
	Kind   string  `json:"kind"`
	Frame  int64   `json:"frame"`
	Region [4]int  `json:"region"`
	A      string  `json:"a"`
	Score  float64 `json:"score"`
}

// most is how many suspects and warnings of a repeat are kept.
const most = 20

// ComparedOf makes what the journal keeps of a member of the tree.
func ComparedOf(m lockstep.Member, ended string) *Compared {
	c := &Compared{
		Family: m.Family, Founder: m.Founder, Frames: m.Frames, Unseen: m.Unseen, Until: int64(m.Life.Frame),
		Warnings: m.Warnings[:min(len(m.Warnings), most)], Ended: ended,
	}
	if m.Life.Run == "" {
		c.Until = m.Frames - 1
	}
	for _, s := range m.Suspects[:min(len(m.Suspects), most)] {
		c.Suspects = append(c.Suspects, Suspect{string(s.Kind), int64(s.Frame), four(s.Region), s.A, finite(s.Score)})
	}
	if d := m.Life.Parted; d != nil {
		c.Parted = &Parting{
			Frame: int64(d.Frame), Since: int64(d.Since), Read: int64(d.Read), Kind: string(d.Kind), Shift: d.Shift, Stays: d.Stays,
			Clocks: d.Clocks, Part: string(d.Part), Region: four(d.Region), A: d.A, Why: d.Why, Score: finite(d.Score),
		}
	}
	return c
}

// Member is the member of the tree again, under its name.
func (c *Compared) Member(name string) lockstep.Member {
	m := lockstep.Member{
		Run: name, Family: c.Family, Founder: c.Founder, Frames: c.Frames, Unseen: c.Unseen, Warnings: c.Warnings,
		Life: lockstep.Life{Run: name, Frame: console.Frame(c.Until)},
	}
	for _, s := range c.Suspects {
		m.Suspects = append(m.Suspects, lockstep.Suspect{
			Kind: lockstep.Kind(s.Kind), Frame: console.Frame(s.Frame), Region: rect(s.Region), A: s.A, B: name, Score: s.Score,
		})
	}
	if p := c.Parted; p != nil {
		m.Life.Parted = &lockstep.Divergence{
			Frame: console.Frame(p.Frame), Since: console.Frame(p.Since), Read: program.Read(p.Read), Kind: lockstep.Kind(p.Kind),
			Shift: p.Shift, Stays: p.Stays, Clocks: p.Clocks, Part: lockstep.Part(p.Part), Region: rect(p.Region),
			A: p.A, B: name, Why: p.Why, Score: p.Score,
		}
	}
	return m
}

func four(r image.Rectangle) [4]int { return [4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }

func rect(x [4]int) image.Rectangle { return image.Rect(x[0], x[1], x[0]+x[2], x[1]+x[3]) }

// finite is what JSON can hold.
func finite(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return max(min(x, math.MaxFloat64), -math.MaxFloat64)
}

// Name is what a repeat is called.
func Name(repeat int) string { return fmt.Sprintf("repeat %d", repeat) }

// Troubled says whether a repeat is one of those of which the policy keeps more.
func (e Entry) Troubled() bool {
	return e.Outcome == Left || e.Trouble || len(e.Failed) > 0 || len(e.Unseen) > 0
}

func (e Entry) check() error {
	compared := e.Compared != nil
	switch e.Outcome {
	case Reference, Clean:
		if !compared || e.Compared.Parted != nil {
			return fmt.Errorf("a %s repeat that was not compared, or parts", e.Outcome)
		}
	case Parted:
		if !compared || e.Compared.Parted == nil {
			return fmt.Errorf("a parted repeat that does not part")
		}
	case Left:
	case Stopped:
		if compared {
			return fmt.Errorf("a stopped repeat that was compared")
		}
	default:
		return fmt.Errorf("outcome %q is not known", e.Outcome)
	}
	if n := len(e.Failed) + len(e.Unseen); e.Asked < n {
		return fmt.Errorf("%d of %d checkpoints did not pass", n, e.Asked)
	}
	if compared && (e.Compared.Family < 0 || e.Compared.Frames < 0) {
		return fmt.Errorf("family %d, %d frames", e.Compared.Family, e.Compared.Frames)
	}
	return nil
}
