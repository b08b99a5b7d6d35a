package feeder

import (
	"sync"
	"time"
)

// arrival is one packet and the host time at which it had arrived.
type arrival struct {
	Packet
	at time.Duration
}

// queue holds arrivals without limit, so that the port is always read and the
// system's small buffer never overflows while the caller is busy.
type queue struct {
	mu    sync.Mutex
	items []arrival
	head  int
	err   error         // why no more will come
	ready chan struct{} // holds a token after put or end
}

func newQueue() *queue { return &queue{ready: make(chan struct{}, 1)} }

func (q *queue) signal() {
	select {
	case q.ready <- struct{}{}:
	default:
	}
}

func (q *queue) put(a arrival) {
	q.mu.Lock()
	q.items = append(q.items, a)
	q.mu.Unlock()
	q.signal()
}

func (q *queue) end(err error) {
	q.mu.Lock()
	if q.err == nil {
		q.err = err
	}
	q.mu.Unlock()
	q.signal()
}

// pop takes the oldest arrival. When there is none, err is why none will
// come, or nil.
func (q *queue) pop() (a arrival, ok bool, err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.head == len(q.items) {
		q.items, q.head = q.items[:0], 0
		return arrival{}, false, q.err
	}
	a = q.items[q.head]
	q.items[q.head] = arrival{}
	q.head++
	if q.head >= 1024 && 2*q.head >= len(q.items) {
		n := copy(q.items, q.items[q.head:])
		clear(q.items[n:])
		q.items, q.head = q.items[:n], 0
	}
	return a, true, nil
}
