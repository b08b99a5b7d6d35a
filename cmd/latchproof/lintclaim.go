package main

import (
	"fmt"
	"io"
	"strings"

	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// lintedClaim is what lint says of a sound claim.
type lintedClaim struct {
	What     string `json:"what"`
	By       string `json:"by"`
	Category string `json:"category"`
	Own      bool   `json:"own"` // it brought its own spec
	House    string `json:"house,omitempty"`
	Frames   int64  `json:"frames"`
}

// lintedHouse is what lint says of a sound house.
type lintedHouse struct {
	Name       string           `json:"name"`
	Repeats    int              `json:"repeats"`
	Lockstep   int              `json:"lockstep"`
	Benches    int              `json:"benches"`
	Ties       string           `json:"ties"`
	OwnSpecs   bool             `json:"own_specs"`
	MaxReads   int64            `json:"max_reads"`
	Categories []lintedCategory `json:"categories"`
}

type lintedCategory struct {
	Name string `json:"name"`
	File string `json:"file"`
	Spec string `json:"spec"`
}

// openHouse opens the house of --house; nil when none is named.
func openHouse(path string) (*claim.House, error) {
	if path == "" {
		return nil, nil
	}
	return claim.OpenHouse(path, checks.All)
}

func (l *linted) failed(err error) linted {
	l.Problems = strings.Split(err.Error(), "\n")
	return *l
}

// lintClaim looks at a claim. Without a house its program is read for the console
// of --console.
func lintClaim(file string, p console.Profile, h *claim.House) linted {
	l := linted{File: file, Kind: "claim", Problems: []string{}, Warnings: []string{}}
	s, err := claim.Open(file, h, checks.All)
	if err != nil {
		return l.failed(err)
	}
	if s.Program == nil {
		limits := program.DefaultLimits
		limits.Reads = claim.DefaultReads
		if s.Program, err = program.Parse(s.Claim.Program, s.Contents[s.Claim.Program], p, limits); err != nil {
			return l.failed(err)
		}
	}
	l.Warnings = append(l.Warnings, s.Warnings()...)
	if s.Own {
		for _, w := range checks.Warnings(s.Spec, nil) {
			l.Warnings = append(l.Warnings, w.Error())
		}
	}
	l.OK = true
	l.program(s.Program)
	l.Claim = &lintedClaim{What: s.Claim.What, By: s.Claim.By, Category: s.Category, Own: s.Own, Frames: s.Claim.Frames}
	if s.Category == "" {
		l.Claim.Category = s.Claim.Category
	}
	if h != nil {
		l.Claim.House = h.Name
	}
	if s.Spec != nil {
		l.Checkpoints = len(s.Spec.Checkpoints)
	}
	return l
}

func lintHouse(file string) linted {
	l := linted{File: file, Kind: "house", Problems: []string{}, Warnings: []string{}}
	h, err := claim.OpenHouse(file, checks.All)
	if err != nil {
		return l.failed(err)
	}
	l.OK = true
	l.Warnings = append(l.Warnings, h.Warnings()...)
	l.House = &lintedHouse{Name: h.Name, Repeats: h.Repeats, Lockstep: h.Lockstep, Benches: h.Benches, Ties: h.Ties,
		OwnSpecs: h.OwnSpecs, MaxReads: h.MaxReads, Categories: []lintedCategory{}}
	for _, c := range h.Categories {
		l.House.Categories = append(l.House.Categories, lintedCategory{c.Name, c.Spec, c.Says})
	}
	return l
}

func (c *lintedClaim) print(w io.Writer) {
	if c == nil {
		return
	}
	fmt.Fprintf(w, "  claim        %s\n  by           %s\n  category     %s\n", c.What, c.By, c.Category)
	if c.House != "" {
		fmt.Fprintf(w, "  house        %s\n", c.House)
	}
	fmt.Fprintf(w, "  frames       %d\n", c.Frames)
}

func (h *lintedHouse) print(w io.Writer) {
	if h == nil {
		return
	}
	fmt.Fprintf(w, "  house        %s\n  plays        %d on each of %d benches or more, %d in lockstep\n  own specs    %t\n  most reads   %d\n",
		h.Name, h.Repeats, h.Benches, h.Lockstep, h.OwnSpecs, h.MaxReads)
	for _, c := range h.Categories {
		fmt.Fprintf(w, "  category     %s: %s (%s)\n", c.Name, c.Spec, c.File)
	}
}
