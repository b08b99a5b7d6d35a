package live

// queue holds up to its room of pictures between two goroutines. Whoever puts in
// never waits.
type queue chan Buffer

// offer puts a picture in; false means that there was no room, and the picture
// stays the caller's.
func (q queue) offer(b Buffer) bool {
	select {
	case q <- b:
		return true
	default:
		return false
	}
}
