package readtiming

import "io"

func (s Study) printStability(io.Writer) {}
