package soak

import "fmt"

// Keep is a policy of what is kept of finished repeats; doc.go has the whole of
// it.
type Keep string

// The policies.
const (
	Lean Keep = "lean"
	All  Keep = "all"
)

// Of how many troubled repeats the video is kept, and of how many others the
// trace, by the policy lean.
const (
	KeptTroubled = 20
	KeptTraces   = 50
)

// Says is the policy in words.
func (k Keep) Says() string {
	if k == Lean {
		return fmt.Sprintf("video of the reference, of each family's first and of the first %d repeats with a checkpoint that did not pass or other trouble; "+
			"traces of those and of the last %d others; of every repeat run.json, the read log, the frames and the verdicts; of repeats that were stopped nothing", KeptTroubled, KeptTraces)
	}
	return "everything"
}

// Why is what run.json says of a dropped file.
func (k Keep) Why() string { return "not kept by policy " + string(k) }

// Drop says which files of a repeat are no longer kept.
type Drop struct {
	Repeat       int
	Video, Trace bool
}

// Keeper applies a policy as repeats are finished. It holds at most KeptTraces
// numbers. The zero value with a Keep is ready.
type Keeper struct {
	Keep     Keep
	troubled int
	traces   []int // repeats whose trace is kept and whose video is not, oldest first
}

// After is told of every entry in turn, and says what is dropped then, and
// whether the repeat is one that is kept whole.
func (k *Keeper) After(e Entry) (drops []Drop, whole bool) {
	if e.Outcome == Stopped {
		return nil, false
	}
	if k.Keep != Lean {
		return nil, true
	}
	if e.Outcome == Reference || e.Compared != nil && e.Compared.Founder {
		return nil, true
	}
	if e.Troubled() {
		k.troubled++
		if k.troubled <= KeptTroubled {
			return nil, true
		}
	}
	drops = []Drop{{Repeat: e.Repeat, Video: true}}
	k.traces = append(k.traces, e.Repeat)
	if len(k.traces) > KeptTraces {
		drops = append(drops, Drop{Repeat: k.traces[0], Trace: true})
		k.traces = append(k.traces[:0], k.traces[1:]...)
	}
	return drops, false
}
