// Command genschema writes the JSON Schema of a certificate's predicate to the file
// named. It is run in the folder of package attest.
package main

import (
	"fmt"
	"os"

	"latchproof/harness/attest/internal/schema"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: genschema FILE")
		os.Exit(2)
	}
	b, err := schema.Generate(".")
	if err == nil {
		err = os.WriteFile(os.Args[1], b, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "genschema:", err)
		os.Exit(1)
	}
}
