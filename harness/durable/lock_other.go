//go:build !unix

package durable

import "os"

// Lock does nothing where there is no flock.
func Lock(*os.File) error { return nil }
