// Command genschema writes the JSON Schemas of claim and house files to the
// folder named.
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"latchproof/harness/claim"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: genschema FOLDER")
		os.Exit(2)
	}
	for name, src := range map[string][]byte{"claim.schema.json": claim.ClaimSchema(), "house.schema.json": claim.HouseSchema()} {
		if err := os.WriteFile(filepath.Join(os.Args[1], name), src, 0o644); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
}
