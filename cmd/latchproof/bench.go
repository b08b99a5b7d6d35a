package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"latchproof/fixtures/sim"
	"latchproof/harness"
)

func (a *app) benchCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "bench",
		Short: "Look at a bench itself",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(a.benchCheckCommand())
	return c
}

// openBench reads a bench file; without one it gives the built-in simulated
// bench. A calibration in the file that is not the bench's is warned of.
func (a *app) openBench(file string) (harness.Bench, error) {
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
	var b harness.Bench = harness.NewRealBench(f)
	if f.Simulated != nil {
		cfg, err := sim.Decode(file, f.Simulated)
		if err != nil {
			return nil, fmt.Errorf("the bench file is not sound:\n%w", err)
		}
		if b, err = simulated(cfg, f.Info.Name); err != nil {
			return nil, err
		}
	}
	info, warnings := f.Calibrated(b.Describe())
	for _, w := range warnings {
		fmt.Fprintf(a.err, "latchproof: warning: %s: %s\n", file, w)
	}
	return described{b, info}, nil
}

// described is a bench of which more is known than it says itself.
type described struct {
	harness.Bench
	info harness.BenchInfo
}

func (d described) Describe() harness.BenchInfo { return d.info }
