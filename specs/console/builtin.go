package console

import (
	"slices"
	"time"
)

// defaultBurstGap is far longer than the two or three latch pulses of a
// careful read, which follow each other within a few hundred microseconds,
// and far shorter than a frame. Common practice, no source.
const defaultBurstGap = 2 * time.Millisecond

var eightButtons = []string{"a", "b", "select", "start", "up", "down", "left", "right"}

var builtins = []Profile{
	{
		Name:   "ntsc-8bit",
		About:  "8-bit console, NTSC-family timing, controllers with one 4021-type shift register",
		Width:  256,
		Height: 240,
		Rate:   Rate{39375000, 655171},
		Derivation: "crystal 6 x 39375000/11 Hz colour subcarrier = 236250000/11 Hz; " +
			"dot clock crystal/4 = 59062500/11 Hz; " +
			"341 x 262 - 1/2 dots a frame (one dot left out every second frame)",
		Buttons:       eightButtons,
		Ports:         2,
		ReadsPerFrame: 1,
		BurstGap:      defaultBurstGap,
		LatchActive:   "high",
	},
	{
		Name:   "pal-8bit",
		About:  "8-bit console, PAL-family timing, controllers with one 4021-type shift register",
		Width:  256,
		Height: 240,
		Rate:   Rate{322445, 6448},
		Derivation: "crystal 6 x 4433618.75 Hz colour subcarrier = 26601712.5 Hz; " +
			"dot clock crystal/5 = 5320342.5 Hz; " +
			"341 x 312 dots a frame",
		Buttons:       eightButtons,
		Ports:         2,
		ReadsPerFrame: 1,
		BurstGap:      defaultBurstGap,
		LatchActive:   "high",
	},
}

// Builtin gives the built-in profile of that name. The profile is a copy: the
// caller may change it.
func Builtin(name string) (Profile, bool) {
	for _, p := range builtins {
		if p.Name == name {
			p.Buttons = slices.Clone(p.Buttons)
			return p, true
		}
	}
	return Profile{}, false
}

// Names are the names of the built-in profiles.
func Names() []string {
	names := make([]string, len(builtins))
	for i, p := range builtins {
		names[i] = p.Name
	}
	return names
}
