package feeder

// CRC16 is CRC-16/IBM-3740: width 16, polynomial 0x1021, start 0xffff, not
// reflected, no final XOR. Source: CRC RevEng, Catalogue of parametrised CRC
// algorithms, entry CRC-16/IBM-3740 (check 0x29b1). TestFeeder checks the
// catalogue's value.
func CRC16(p []byte) uint16 {
	crc := uint16(0xffff)
	for _, b := range p {
		crc = crc<<8 ^ crcTable[byte(crc>>8)^b]
	}
	return crc
}

var crcTable = func() (t [256]uint16) {
	for i := range t {
		r := uint16(i) << 8
		for range 8 {
			if r&0x8000 != 0 {
				r = r<<1 ^ 0x1021
			} else {
				r <<= 1
			}
		}
		t[i] = r
	}
	return t
}()
