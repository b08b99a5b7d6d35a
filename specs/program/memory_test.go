package program_test

import "runtime"

// bytesAllocated is how much f takes from the heap, the least of three tries,
// because other goroutines of the test process are counted too.
func bytesAllocated(f func()) uint64 {
	var least uint64
	for i := range 3 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f()
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; i == 0 || n < least {
			least = n
		}
	}
	return least
}
