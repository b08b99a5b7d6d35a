package feeder_test

import (
	"bytes"
	"testing"

	"latchproof/harness/feeder"
)

// FuzzDecoder feeds any bytes: nothing may panic, a frame that is accepted
// must come out of the encoder again as a frame with the same meaning, and
// whatever came before, a good frame after a zero is found.
func FuzzDecoder(f *testing.F) {
	for _, m := range samples {
		f.Add(feeder.AppendFrame(nil, 3, m))
	}
	f.Add([]byte{0, 0, 1, 0, 0xff, 0})
	probe := feeder.AppendFrame([]byte{0}, 7, &feeder.SyncAsk{Token: 1})
	f.Fuzz(func(t *testing.T, p []byte) {
		var d feeder.Decoder
		d.Feed(p, func(pk feeder.Packet) {
			m, err := pk.Message()
			if err != nil {
				return
			}
			again(t, pk.Seq, m)
		})
		if d.Pending() >= feeder.MaxWire {
			t.Fatalf("%d bytes are held", d.Pending())
		}
		found := false
		d.Feed(probe, func(pk feeder.Packet) { found = pk.Type == feeder.TypeSync && pk.Seq == 7 })
		if !found {
			t.Fatal("a good frame was not found")
		}
	})
}

// FuzzMessage parses any payload of any type: what is accepted must be stable
// from then on.
func FuzzMessage(f *testing.F) {
	for _, m := range samples {
		f.Add(byte(m.Type()), m.Marshal(nil))
	}
	f.Fuzz(func(t *testing.T, typ byte, p []byte) {
		m, err := feeder.Packet{Type: feeder.Type(typ), Payload: p}.Message()
		if err == nil && len(p) <= feeder.MaxBody-2 {
			again(t, 1, m)
		}
	})
}

// FuzzCOBS checks that every packet survives, without a zero on the way, and
// that what decodes encodes to something that decodes to the same.
func FuzzCOBS(f *testing.F) {
	f.Add([]byte{})
	f.Add(bytes.Repeat([]byte{1}, 254))
	f.Add([]byte{0, 1, 0})
	f.Fuzz(func(t *testing.T, p []byte) {
		e := feeder.AppendCOBS(nil, p)
		if bytes.IndexByte(e, 0) >= 0 || len(e) > len(p)+1+len(p)/254 {
			t.Fatalf("bad stuffing of %x: %x", p, e)
		}
		if d, err := feeder.DecodeCOBS(nil, e); err != nil || !bytes.Equal(d, p) {
			t.Fatalf("%x became %x (%v)", p, d, err)
		}
		if d, err := feeder.DecodeCOBS(nil, p); err == nil {
			if d2, err := feeder.DecodeCOBS(nil, feeder.AppendCOBS(nil, d)); err != nil || !bytes.Equal(d, d2) {
				t.Fatalf("%x became %x (%v)", d, d2, err)
			}
		}
	})
}

func again(t *testing.T, seq uint8, m feeder.Message) {
	t.Helper()
	wire := feeder.AppendFrame(nil, seq, m)
	var d feeder.Decoder
	n := 0
	d.Feed(wire, func(pk feeder.Packet) {
		n++
		m2, err := pk.Message()
		if err != nil || pk.Seq != seq || pk.Type != m.Type() || !bytes.Equal(m2.Marshal(nil), m.Marshal(nil)) {
			t.Fatalf("%#v came back as %#v (%v)", m, m2, err)
		}
	})
	if n != 1 {
		t.Fatalf("%#v came back as %d frames", m, n)
	}
}

func BenchmarkEncode(b *testing.B) {
	m := &feeder.LatchLog{First: 7, Records: make([]feeder.WireLatch, 16)}
	var buf []byte
	for b.Loop() {
		buf = feeder.AppendFrame(buf[:0], 0, m)
	}
	b.SetBytes(int64(len(buf)))
}

// BenchmarkDecodeLog decodes the log of 16,000 latch pulses.
func BenchmarkDecodeLog(b *testing.B) {
	var stream []byte
	for i := range 1000 {
		m := &feeder.LatchLog{First: uint32(16 * i)}
		for j := range 16 {
			m.Records = append(m.Records, feeder.WireLatch{Micros: uint32(16639 * (16*i + j)), Clocks: 8, P1: uint16(j)})
		}
		stream = feeder.AppendFrame(stream, 0, m)
	}
	b.SetBytes(int64(len(stream)))
	var m feeder.LatchLog
	for b.Loop() {
		var d feeder.Decoder
		n := 0
		d.Feed(stream, func(p feeder.Packet) {
			if m.Unmarshal(p.Payload) != nil {
				b.Fatal("bad record")
			}
			n += len(m.Records)
		})
		if n != 16000 {
			b.Fatalf("%d records", n)
		}
	}
}
