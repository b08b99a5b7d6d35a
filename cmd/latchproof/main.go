// Command latchproof plays button programs on a console bench, judges what the
// capture shows, and says whether the repeats were frame-exact and where they
// part. See `latchproof help`.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

// version of the program; it is written into every run record and report.
const version = "0.1.0"

func main() {
	// The first interrupt lets the run that is on be sealed or marked; a
	// second one kills, as the handler is gone by then.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop()
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}
