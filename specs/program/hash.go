package program

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
)

// hashDomain keeps program hashes apart from all other uses of SHA-256.
const hashDomain = "latchproof button stream 1\n"

// Hash is the program hash in lower-case hexadecimal: SHA-256 (FIPS 180-4) over
// the line "latchproof button stream 1\n" and four bytes a read, the states of
// port 1 and port 2, 16 bits each, little endian. Tested against Python's
// hashlib.
func (p *Program) Hash() string {
	h := sha256.New()
	h.Write([]byte(hashDomain))
	var buf [4096]byte
	p.each(func(r Run) {
		n := min(r.Count, int64(len(buf)/4))
		for i := range n {
			binary.LittleEndian.PutUint16(buf[4*i:], r.State.P1)
			binary.LittleEndian.PutUint16(buf[4*i+2:], r.State.P2)
		}
		for left := r.Count; left > 0; left -= n {
			h.Write(buf[:4*min(n, left)])
		}
	})
	return hex.EncodeToString(h.Sum(nil))
}
