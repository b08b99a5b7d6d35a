// Package sample has a type for the tests of goschema.
package sample

// Root is a thing.
type Root struct {
	Name  string          `json:"name"`  // what it is called
	Parts map[string]Part `json:"parts"` // by their names
	Mute  int             `json:"mute"`
	// Next is the one behind, if any.
	Next *Part `json:"next,omitempty"`
	Skip bool  `json:"-"`
}

// Part is one.
type Part struct {
	At [2]float64 `json:"at"` // its place
}
