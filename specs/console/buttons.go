package console

import (
	"slices"
	"strings"
)

// maxButtons is how many buttons one port's state can hold.
const maxButtons = 16

// ButtonBit gives the bit of a button in a state, which is its place in the
// shift order. It reports false when the console has no such button.
func (p Profile) ButtonBit(name string) (int, bool) {
	i := slices.Index(p.Buttons, name)
	if i < 0 || i >= maxButtons {
		return 0, false
	}
	return i, true
}

// StateNames writes one port's state as names joined by "+", the last button
// of the shift order first: "right+b" for bits 7 and 1 of an 8-bit console.
// Nothing pressed is "". Bits without a button are left out.
func (p Profile) StateNames(bits uint16) string {
	var names []string
	for i := min(len(p.Buttons), maxButtons) - 1; i >= 0; i-- {
		if bits>>i&1 == 1 {
			names = append(names, p.Buttons[i])
		}
	}
	return strings.Join(names, "+")
}
