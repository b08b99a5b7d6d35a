package console

import (
	"fmt"
	"regexp"
	"slices"
	"time"
)

var (
	nameForm   = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{0,63}$`)
	buttonForm = regexp.MustCompile(`^[a-z][a-z0-9_-]{0,15}$`)
)

// reservedButtons are the words that a button program needs for itself.
var reservedButtons = []string{"for"}

const (
	minRaster, maxRaster = 8, 4096
	maxReadsPerFrame     = 16
)

// fault is a problem of a value before it has a place in a file.
type fault struct {
	key  string
	item int // which item of a list, or -1 for the whole value
	text string
}

// Validate checks a profile by the rules of profile files (see the package
// comment). The error is an ErrorList whose problems carry keys and no places.
func (p Profile) Validate() error {
	var l ErrorList
	for _, f := range p.faults() {
		l = append(l, Problem{File: "console " + quote(p.Name), Key: f.key, Text: f.text})
	}
	return l.Err()
}

func (p Profile) faults() []fault {
	var fs []fault
	fail := func(key string, item int, format string, args ...any) {
		fs = append(fs, fault{key, item, fmt.Sprintf(format, args...)})
	}
	if !nameForm.MatchString(p.Name) {
		fail("console", -1, "%s is not a name of lower-case letters, digits, \".\", \"_\" and \"-\"", quote(p.Name))
	}
	for i, side := range []int{p.Width, p.Height} {
		if side < minRaster || side > maxRaster {
			fail("raster", i, "%d is not between %d and %d pixels", side, minRaster, maxRaster)
		}
	}
	rateOK := false
	switch r := p.Rate; {
	case r.Num <= 0 || r.Den <= 0 || r.Num > maxRatePart || r.Den > maxRatePart:
		fail("rate", -1, "both numbers must be from 1 to 10^12")
	case r.Num < r.Den || r.Num > 1000*r.Den:
		fail("rate", -1, "%s is not between 1 and 1000 Hz", r)
	default:
		rateOK = true
	}
	if n := len(p.Buttons); n < 1 || n > maxButtons {
		fail("buttons", -1, "%d buttons, must be 1 to %d", n, maxButtons)
	}
	for i, b := range p.Buttons {
		switch {
		case !buttonForm.MatchString(b):
			fail("buttons", i, "%s is not a button name: a lower-case letter, then at most 15 lower-case letters, digits, \"_\" or \"-\"", quote(b))
		case slices.Contains(reservedButtons, b):
			fail("buttons", i, "%q is a word of the program notation", b)
		case slices.Contains(p.Buttons[:i], b):
			fail("buttons", i, "button %q twice", b)
		}
	}
	if p.Ports < 1 || p.Ports > 2 {
		fail("ports", -1, "%d is not 1 or 2", p.Ports)
	}
	if p.ReadsPerFrame < 1 || p.ReadsPerFrame > maxReadsPerFrame {
		fail("reads_per_frame", -1, "%d is not between 1 and %d", p.ReadsPerFrame, maxReadsPerFrame)
		rateOK = false
	}
	switch {
	case p.BurstGap < 0:
		fail("burst_gap", -1, "%v is below 0", p.BurstGap)
	case p.BurstGap%time.Microsecond != 0:
		fail("burst_gap", -1, "%v is not whole microseconds", p.BurstGap)
	case rateOK:
		apart := time.Duration(p.Rate.Period() / float64(p.ReadsPerFrame) * float64(time.Second))
		if p.BurstGap >= apart {
			fail("burst_gap", -1, "%v is not shorter than the %v from one read to the next", p.BurstGap, apart.Round(time.Microsecond))
		}
	}
	if p.LatchActive != "high" && p.LatchActive != "low" {
		fail("latch", -1, "%s is not high or low", quote(p.LatchActive))
	}
	return fs
}
