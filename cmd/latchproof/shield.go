package main

import (
	"io"

	"latchproof/reports"
)

// A shield writes texts to a terminal or a log without what could command it:
// control characters but new line and tab, and the marks that turn the reading
// order round, stand as [U+202E]. Names of files and of strangers' specs come
// through it. A text must be written at once, not cut within a character.
type shield struct{ w io.Writer }

func (s shield) Write(p []byte) (int, error) {
	if _, err := io.WriteString(s.w, reports.Visible(string(p))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// bare is what a shield writes to: for what writes control characters itself, or
// JSON, which is for programs.
func bare(w io.Writer) io.Writer {
	if s, ok := w.(shield); ok {
		return s.w
	}
	return w
}
