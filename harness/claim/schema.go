package claim

import (
	"bytes"
	"fmt"
	"unicode/utf16"

	"latchproof/specs"
)

//go:generate go run ./internal/genschema .

// ClaimSchemaID and HouseSchemaID name the published schemas, claim.schema.json
// and house.schema.json in this folder.
const (
	ClaimSchemaID = "urn:latchproof:claim:1"
	HouseSchemaID = "urn:latchproof:house:1"
)

// ClaimSchema is the JSON Schema (draft 2020-12) of claim files, made from the
// tables that Parse reads by. What it cannot express, and only Parse and Open
// report: columns of a text where they are fewer than its characters, marks put
// upon one another, names of devices, and files.
func ClaimSchema() []byte {
	return ascii(specs.SchemaOf(claimShape, ClaimSchemaID, "latchproof claim",
		"A claim file (*.claim.yaml): a button program, and how many frames it takes."))
}

// HouseSchema is the same of house files; not expressed is also that lockstep is
// at most repeats, and that no two categories differ in case alone.
func HouseSchema() []byte {
	return ascii(specs.SchemaOf(houseShape, HouseSchemaID, "latchproof house",
		"A house file (house.yaml): by what policy claims are certified, and in which categories."))
}

// ascii writes what is not ASCII in a JSON text as escapes: the characters that a
// pattern refuses cannot be seen otherwise.
func ascii(src []byte) []byte {
	var b bytes.Buffer
	for _, r := range string(src) {
		switch hi, lo := utf16.EncodeRune(r); {
		case r <= '~':
			b.WriteRune(r)
		case r <= 0xffff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x\u%04x`, hi, lo)
		}
	}
	return b.Bytes()
}
