//go:build unix

package vision

import "golang.org/x/sys/unix"

// freeSpace is the number of bytes that may still be written where path is; ok
// is false when that is unknown.
func freeSpace(path string) (bytes uint64, ok bool) {
	var st unix.Statfs_t
	if err := unix.Statfs(path, &st); err != nil {
		return 0, false
	}
	return uint64(st.Bavail) * uint64(st.Bsize), true
}
