package attest

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// maxText is how long a text of a certificate may be, bytes.
const maxText = 4096

// maxList is how long a list of a certificate may be.
const maxList = 10_000

// check says what is wrong with a predicate by itself. It does not know the files.
func (p *Predicate) check() error {
	if _, err := ParsePublic(p.Key); err != nil {
		return fmt.Errorf("key: %w", err)
	}
	for _, c := range []func() error{p.checkTexts, p.checkNumbers, p.checkBenches} {
		if err := c(); err != nil {
			return err
		}
	}
	if !isHash(p.Claim.ProgramHash) {
		return fmt.Errorf("claim: %q is not a SHA-256", p.Claim.ProgramHash)
	}
	if !slices.Contains([]string{"none", "first", "record", "tie", "slower"}, p.Standing) {
		return fmt.Errorf("standing %q is not known", p.Standing)
	}
	if (p.Before == nil) != (p.Standing == "first" || p.Standing == "none") {
		return fmt.Errorf("standing %q does not go with there being one before or not", p.Standing)
	}
	if p.Before != nil && !isHash(p.Before.Leaf) {
		return fmt.Errorf("before: %q is not a SHA-256", p.Before.Leaf)
	}
	if p.House.Ties != "earlier" {
		return fmt.Errorf("house: the rule %q for ties is not known", p.House.Ties)
	}
	t, err := time.Parse(time.RFC3339, p.Certified)
	if err != nil || t.UTC().Format(time.RFC3339) != p.Certified {
		return fmt.Errorf("certified: %q is not a time in UTC such as 2006-01-02T15:04:05Z", p.Certified)
	}
	return nil
}

func (p *Predicate) checkTexts() error {
	texts := []string{p.Claim.Name, p.Claim.By, p.Claim.Category, p.House.Name}
	if p.Before != nil {
		texts = append(texts, p.Before.By)
	}
	for name, version := range p.Versions {
		texts = append(texts, name, version)
	}
	for _, b := range p.Benches {
		texts = append(append(texts, b.Name), b.Runs...)
	}
	for _, s := range append(texts, p.RestsOnVideo...) {
		if len(s) > maxText || !utf8.ValidString(s) {
			return fmt.Errorf("a text of %d bytes is too long or not UTF-8", len(s))
		}
		if strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f }) {
			return fmt.Errorf("text %q has control characters", s)
		}
	}
	if p.Benches == nil || p.Versions == nil || p.RestsOnVideo == nil {
		return fmt.Errorf("benches, versions and rests_on_video may be empty, but not null")
	}
	return nil
}

func (p *Predicate) checkNumbers() error {
	numbers := []struct {
		name string
		n    int64
	}{
		{"claim.frames", p.Claim.Frames}, {"house.repeats", int64(p.House.Repeats)}, {"house.lockstep", int64(p.House.Lockstep)},
		{"house.benches", int64(p.House.Benches)}, {"measured.low", p.Measured.Low}, {"frames", p.Frames}, {"unseen", p.Unseen},
	}
	if p.Before != nil {
		numbers = append(numbers, struct {
			name string
			n    int64
		}{"before.index", p.Before.Index}, struct {
			name string
			n    int64
		}{"before.frames", p.Before.Frames})
	}
	for _, x := range numbers {
		if x.n < 0 {
			return fmt.Errorf("%s is %d, below 0", x.name, x.n)
		}
	}
	if m := p.Measured; m.Low > m.Frames || m.Frames > m.High || !(m.Seconds >= 0) {
		return fmt.Errorf("measured: %d frames from %d to %d, %v s", m.Frames, m.Low, m.High, m.Seconds)
	}
	return nil
}

func (p *Predicate) checkBenches() error {
	if len(p.Benches) > maxList || len(p.Versions) > maxList || len(p.RestsOnVideo) > maxList {
		return fmt.Errorf("a list is longer than %d", maxList)
	}
	for i, b := range p.Benches {
		if i > 0 && p.Benches[i-1].Name >= b.Name {
			return fmt.Errorf("bench %q comes after %q", b.Name, p.Benches[i-1].Name)
		}
		if b.Runs == nil || len(b.Runs) > maxList || b.Lockstep < 0 || b.Lockstep > len(b.Runs) {
			return fmt.Errorf("bench %q: %d of %d runs in lockstep", b.Name, b.Lockstep, len(b.Runs))
		}
	}
	return nil
}

// isHash says whether s is 64 lower-case hexadecimal digits.
func isHash(s string) bool {
	return len(s) == 64 && !strings.ContainsFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789abcdef", r) })
}
