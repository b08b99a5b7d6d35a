package live

import (
	"sync"
	"sync/atomic"
)

// Pool keeps the memory of pictures that nobody holds any more. The zero value
// is ready. It is safe for use by several goroutines.
type Pool struct{ free sync.Pool }

type lease struct {
	pool  *Pool
	bytes []byte
	held  atomic.Int32
}

// Get makes a buffer with n bytes of memory, which hold anything. Whoever is
// done with it calls Release.
func (p *Pool) Get(n int) Buffer {
	l, _ := p.free.Get().(*lease)
	if l == nil {
		l = &lease{pool: p}
	}
	if cap(l.bytes) < n {
		l.bytes = make([]byte, n+n/4)
	}
	l.held.Store(1)
	return Buffer{Data: l.bytes[:n:n], lease: l}
}

// hold makes one more holder.
func (b Buffer) hold() Buffer {
	if b.lease != nil {
		b.lease.held.Add(1)
	}
	return b
}

// Release gives the memory back. A buffer that came from no pool has none to
// give.
func (b Buffer) Release() {
	if b.lease != nil && b.lease.held.Add(-1) == 0 {
		b.lease.pool.free.Put(b.lease)
	}
}
