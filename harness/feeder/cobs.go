package feeder

import "errors"

// errCOBS: the bytes are not a COBS packet.
var errCOBS = errors.New("not a valid COBS packet")

// AppendCOBS appends the packet p, byte-stuffed so that it holds no zero, to
// dst. The delimiting zero is not appended. When p ends exactly on a full
// group of 254 non-zero bytes the short form is written, with no group of
// length nought after it.
//
// Source: S. Cheshire and M. Baker, Consistent Overhead Byte Stuffing,
// IEEE/ACM Transactions on Networking 7(2), 1999.
func AppendCOBS(dst, p []byte) []byte {
	at := len(dst) // where the current group's code goes
	dst = append(dst, 0)
	code := byte(1)
	for i, b := range p {
		if b != 0 {
			dst = append(dst, b)
			code++
		}
		if b == 0 || code == 0xff && i+1 < len(p) {
			dst[at] = code
			at = len(dst)
			dst = append(dst, 0)
			code = 1
		}
	}
	dst[at] = code
	return dst
}

// DecodeCOBS appends to dst the packet that p encodes; p is without its
// delimiter. Both forms of a packet that ends on a full group are accepted.
// An empty p, a zero in p and a group that runs past the end are errors.
func DecodeCOBS(dst, p []byte) ([]byte, error) {
	if len(p) == 0 {
		return dst, errCOBS
	}
	for len(p) > 0 {
		code := int(p[0])
		if code == 0 || code > len(p) {
			return dst, errCOBS
		}
		for _, b := range p[1:code] {
			if b == 0 {
				return dst, errCOBS
			}
		}
		dst = append(dst, p[1:code]...)
		p = p[code:]
		if code < 0xff && len(p) > 0 {
			dst = append(dst, 0)
		}
	}
	return dst, nil
}
