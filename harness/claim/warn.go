package claim

import (
	"fmt"
	"slices"
	"strings"

	"latchproof/specs"
)

// Warnings are what a maker should know of a house, and no problem: each is
// file:line:col: text.
func (h *House) Warnings() []string { return h.warnings }

// marked warns of checkpoints that stand at marks: the submitter says where the
// marks are, and so when the checkpoints look.
func marked(s *specs.Spec) (out []string) {
	var marks []string
	n := 0
	for _, c := range s.Checkpoints {
		found := false
		for _, m := range []specs.Moment{c.At.From, c.At.To} {
			if m.Mark != "" {
				found = true
				marks = append(marks, m.Mark)
			}
		}
		if found {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	slices.Sort(marks)
	marks = slices.Compact(marks)
	return []string{s.Pos("checkpoints").Errorf("%d of %d stand at marks (%s), and where these are is for each submitter to say",
		n, len(s.Checkpoints), strings.Join(marks, ", ")).Error()}
}

// Warnings are what a maker should know of a submission, and no problem: each is
// file:line:col: text.
func (s *Submission) Warnings() (out []string) {
	for _, name := range s.Ignored {
		at := specs.Pos{File: shown(s.Dir + "/" + name), Line: 1, Col: 1}
		out = append(out, at.Errorf("not part of the submission").Error())
	}
	if s.House == nil {
		out = append(out, fmt.Sprintf("%s:1:1: not held against a house", shown(s.Claim.File)))
	}
	return out
}
