package program

// Read is the number of a controller read after reset, from 0.
type Read int64

// State is which buttons are held on each port. Bit i is button i of the
// console profile's shift order; 1 is pressed.
type State struct{ P1, P2 uint16 }

// Run is a state held for Count reads.
type Run struct {
	State State
	Count int64
}

// Mark is a name given to the read that follows it in the program.
type Mark struct {
	Name string
	Read Read
	Line int
}
