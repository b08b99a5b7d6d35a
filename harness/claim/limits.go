package claim

import (
	"bytes"
	"errors"

	"latchproof/specs"
	"latchproof/specs/console"
)

// Limits of a submission. They are checked before anything is parsed.
const (
	MaxClaimBytes   = 64 << 10 // of the claim file
	MaxHouseBytes   = 64 << 10 // of a house file
	MaxProgramBytes = 1 << 20  // of the program's text
	MaxProgramLine  = 1000     // bytes of one line of it
	MaxSpecBytes    = 256 << 10
	MaxPictureBytes = 512 << 10 // of a picture that it names: a raster of 256x240 with 16 bits a channel has 480 KiB
	MaxFileBytes    = 4 << 20   // of any file in the folder
	MaxTotalBytes   = 16 << 20  // of all files in the folder together
	MaxEntries      = 200       // files and folders in it
	MaxDepth        = 3         // folders within one another

	maxSpecTotal = 64 << 20 // of a house's spec and what it names
)

// ErrTooBig means that something of a submission is larger than allowed.
var ErrTooBig = specs.ErrTooBig

func fileStart(file string) specs.Pos { return specs.Pos{File: shown(file), Line: 1, Col: 1} }

func tooBig(file string, most int) specs.ErrorList {
	return specs.ErrorList{fileStart(file).Errorf("%w: more than %d bytes", ErrTooBig, most)}
}

// longLine is the first line of a text that has more than most bytes, from 1; 0
// when none has.
func longLine(src []byte, most int) int {
	for n := 1; len(src) > 0; n++ {
		one, rest, _ := bytes.Cut(src, []byte{'\n'})
		if len(one) > most {
			return n
		}
		src = rest
	}
	return 0
}

// listOf is an error as a list of problems.
func listOf(err error, otherwise specs.Pos) specs.ErrorList {
	var own specs.ErrorList
	var one *specs.Error
	var theirs console.ErrorList
	switch {
	case err == nil:
		return nil
	case errors.As(err, &own):
		return own
	case errors.As(err, &one):
		return specs.ErrorList{one}
	case errors.As(err, &theirs):
		list := make(specs.ErrorList, len(theirs))
		for i, p := range theirs {
			list[i] = &specs.Error{Pos: specs.Pos{File: p.File, Line: p.Line, Col: p.Col, Key: p.Key}, Problem: p.Text}
		}
		return list
	}
	return specs.ErrorList{otherwise.Errorf("%w", err)}
}
