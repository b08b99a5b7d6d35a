// Command genschema writes the JSON Schema of report.json to the file named. It
// is run in the folder of package reports.
package main

import (
	"fmt"
	"os"
	"reflect"

	"latchproof/reports"
	"latchproof/reports/internal/reportschema"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: genschema FILE")
		os.Exit(2)
	}
	b, err := reportschema.Generate(".", reports.SchemaID, reflect.TypeFor[reports.Session]())
	if err == nil {
		err = os.WriteFile(os.Args[1], b, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "genschema:", err)
		os.Exit(1)
	}
}
