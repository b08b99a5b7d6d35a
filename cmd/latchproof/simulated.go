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
	info := b.Describe()
	info.Name = name
	return described{b, info}, nil
}
