//go:build !unix

package live

import "os"

func openReading(path string) (*os.File, error) { return os.Open(path) }
