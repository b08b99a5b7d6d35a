package feeder_test

// Frames made by an independent program (Python, bit-by-bit CRC, split-based
// COBS) from the layouts in PROTOCOL.md.
const (
	wireHello   = "0a 01 01 01 04 03 02 01 bc 43 00"
	wireLoad    = "03 03 03 01 01 01 03 02 3c 01 01 01 01 02 14 02 80 01 01 03 44 c5 00"
	wireLatch   = "02 85 02 05 01 01 05 01 40 42 0f 02 08 02 80 01 01 03 95 6b 00"
	wireService = "02 89 02 05 01 01 03 02 30 05 40 81 a1 b4 00"
)
