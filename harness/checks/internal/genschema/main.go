// Command genschema writes the JSON Schema of spec files with all kinds of
// checkpoints to the file named.
package main

import (
	"fmt"
	"os"

	"latchproof/harness/checks"
	"latchproof/specs"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: genschema FILE")
		os.Exit(2)
	}
	if err := os.WriteFile(os.Args[1], specs.Schema(checks.All), 0o644); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
