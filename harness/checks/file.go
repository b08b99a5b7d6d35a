package checks

import (
	"sync"

	"latchproof/specs"
)

// file is a picture that a check reads when it is prepared: which, where the
// spec names it, and whether that is done.
type file struct {
	name    string // relative to the spec's folder
	namePos specs.Pos

	ready bool // made from a picture, not from a spec
	env   specs.Env
	once  sync.Once
	err   error
}

// Bind takes the spec's folder and the raster.
func (f *file) Bind(env specs.Env) { f.env = env }

// Templates is the file.
func (f *file) Templates() []string { return []string{f.name} }

// prepareBy reads the file by read, once, however often it is called. It is
// ErrNotPrepared when there is no folder to read it from.
func (f *file) prepareBy(read func() error) error {
	if f.ready {
		return nil
	}
	if f.env.Folder.Dir == "" {
		return specs.ErrorList{f.namePos.Errorf("%w", ErrNotPrepared)}
	}
	f.once.Do(func() { f.err = read() })
	return f.err
}
