package feeder

// Decoder takes frames off a stream of bytes. Whatever is not a whole frame
// with a good CRC is dropped and counted, and the decoder goes on after the
// next zero. The zero value is ready.
type Decoder struct {
	buf  []byte // stuffed bytes since the last zero
	body []byte
	long bool // too long already: wait for the zero
	bad  int64
}

// Feed decodes p and calls emit for every good frame in order. The packet's
// payload is valid only during the call.
func (d *Decoder) Feed(p []byte, emit func(Packet)) {
	for _, b := range p {
		if b != 0 {
			if len(d.buf) == MaxWire-1 {
				d.long = true
			} else if !d.long {
				d.buf = append(d.buf, b)
			}
			continue
		}
		if len(d.buf) > 0 {
			if pk, ok := d.frame(); ok {
				emit(pk)
			} else {
				d.bad++
			}
		}
		d.buf, d.long = d.buf[:0], false
	}
}

func (d *Decoder) frame() (Packet, bool) {
	if d.long {
		return Packet{}, false
	}
	var err error
	d.body, err = DecodeCOBS(d.body[:0], d.buf)
	n := len(d.body) - 2
	if err != nil || n < 2 || n > MaxBody || CRC16(d.body[:n]) != le.Uint16(d.body[n:]) {
		return Packet{}, false
	}
	return Packet{Type(d.body[0]), d.body[1], d.body[2:n]}, true
}

// Bad is how many damaged frames were dropped so far.
func (d *Decoder) Bad() int64 { return d.bad }

// Pending is how many bytes of an unfinished frame are held.
func (d *Decoder) Pending() int { return len(d.buf) }
