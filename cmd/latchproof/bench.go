package main

import (
	"fmt"

	"latchproof/fixtures/sim"
	"latchproof/harness"
)

// openBench reads a bench file; without one it gives the built-in simulated
// bench.
func openBench(file string) (harness.Bench, error) {
	if file == "" {
		return simulated(sim.Default(), "the built-in simulated bench")
	}
	src, err := readSmall(file)
	if err != nil {
		return nil, fmt.Errorf("bench file: %w", err)
	}
	f, err := harness.ParseBench(file, src)
	if err != nil {
		return nil, fmt.Errorf("the bench file is not sound:\n%w", err)
	}
	if f.Simulated == nil {
		return harness.NewRealBench(f), nil
	}
	cfg, err := sim.Decode(file, f.Simulated)
	if err != nil {
		return nil, fmt.Errorf("the bench file is not sound:\n%w", err)
	}
	return simulated(cfg, f.Info.Name)
}
