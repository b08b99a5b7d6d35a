package main

import (
	"latchproof/fixtures/sim"
	"latchproof/harness"
)

// simulated makes a simulated bench of that name.
func simulated(cfg sim.Config, name string) (harness.Bench, error) {
	b, err := sim.New(cfg, sim.Options{})
	if err != nil {
		return nil, err
	}
	return named{b, name}, nil
}

// named is a bench under the name that its file gives it.
type named struct {
	harness.Bench
	name string
}

func (n named) Describe() harness.BenchInfo {
	info := n.Bench.Describe()
	info.Name = n.name
	return info
}
