//go:build !unix

package soak

import "os"

func lock(*os.File) error { return nil }
