package lockstep

import "latchproof/specs/program"

// Options are what a comparison may be told. The zero value is sound.
type Options struct {
	// LineOf gives the program line in force at a read, 0 when unknown; it
	// fills program_line of the result. May be nil.
	LineOf func(program.Read) int
	// StateNames gives the names of the buttons held in a state, as a maker
	// writes them ("right+b"), and "" when none is. May be nil; then states are
	// written as numbers.
	StateNames func(program.State) string
}

// Noise is the noise found between two runs.
type Noise struct {
	// Luma and Chroma are the robust standard deviation of the difference of
	// two block means, levels: median over the frames compared.
	Luma, Chroma float64
	// Gain and Offset bring the first run's luma to the second's: median over
	// the frames compared.
	Gain, Offset float64
}
