package feeder_test

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
)

func unhex(s string) []byte {
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		panic(err)
	}
	return b
}

// span is the bytes from a to b, both included.
func span(a, b int) []byte {
	var p []byte
	for i := a; i <= b; i++ {
		p = append(p, byte(i))
	}
	return p
}

func ones(n int) []byte { return bytes.Repeat([]byte{1}, n) }

// The first value is the check value of the CRC RevEng Catalogue of
// parametrised CRC algorithms, entry CRC-16/IBM-3740; the others were computed
// with a bit-by-bit model of the same parameters and crcmod 1.7.
var _ = DescribeTable("CRC-16/IBM-3740", func(in []byte, want int) {
	Expect(feeder.CRC16(in)).To(Equal(uint16(want)))
	// A message and its big-endian CRC leave the catalogue's residue, 0.
	Expect(feeder.CRC16(append(slices.Clone(in), byte(want>>8), byte(want)))).To(BeZero())
},
	Entry("the catalogue's check value", []byte("123456789"), 0x29b1),
	Entry("nothing", []byte{}, 0xffff),
	Entry("00", []byte{0}, 0xe1f0),
	Entry("ff", []byte{0xff}, 0xff00),
	Entry("A", []byte("A"), 0xb915),
	Entry("32 x 00", make([]byte, 32), 0xf14c),
	Entry("32 x ff", bytes.Repeat([]byte{0xff}, 32), 0x75f8),
	Entry("00 to 1f", span(0, 0x1f), 0x23b3),
	Entry("00 to ff", span(0, 0xff), 0x3fbd),
	Entry("the pangram", []byte("The quick brown fox jumps over the lazy dog"), 0x8fdd),
)

// Sources: figures 2 and 3 of S. Cheshire and M. Baker, Consistent Overhead
// Byte Stuffing, IEEE/ACM Transactions on Networking 7(2), 1999; the table of
// eleven examples in the encyclopaedia article of that name; the others were
// computed with the Python package cobs.
var _ = DescribeTable("COBS", func(in, want []byte) {
	got := feeder.AppendCOBS(nil, in)
	Expect(got).To(Equal(want))
	Expect(got).NotTo(ContainElement(byte(0)))
	back, err := feeder.DecodeCOBS([]byte{}, got)
	Expect(err).NotTo(HaveOccurred())
	Expect(back).To(Equal(append([]byte{}, in...)))
},
	Entry("table, row 1", unhex("00"), unhex("0101")),
	Entry("table, row 2", unhex("0000"), unhex("010101")),
	Entry("table, row 3", unhex("001100"), unhex("01021101")),
	Entry("table, row 4", unhex("11220033"), unhex("0311220233")),
	Entry("table, row 5", unhex("11223344"), unhex("0511223344")),
	Entry("table, row 6", unhex("11000000"), unhex("0211010101")),
	Entry("table, row 7", span(1, 0xfe), append([]byte{0xff}, span(1, 0xfe)...)),
	Entry("table, row 8", span(0, 0xfe), append([]byte{1, 0xff}, span(1, 0xfe)...)),
	Entry("table, row 9", span(1, 0xff), append(append([]byte{0xff}, span(1, 0xfe)...), 2, 0xff)),
	Entry("table, row 10", append(span(2, 0xff), 0), append(append([]byte{0xff}, span(2, 0xff)...), 1, 1)),
	Entry("table, row 11", append(span(3, 0xff), 0, 1), append(append([]byte{0xfe}, span(3, 0xff)...), 2, 1)),
	Entry("paper, figure 3", unhex("4500002c4c79000040064f37"), unhex("024501042c4c79010540064f37")),
	Entry("paper, figure 2", append(ones(679), 0),
		slices.Concat([]byte{0xff}, ones(254), []byte{0xff}, ones(254), []byte{0xac}, ones(171), []byte{1})),
	Entry("nothing", []byte{}, []byte{1}),
	Entry("253", ones(253), append([]byte{0xfe}, ones(253)...)),
	Entry("254", ones(254), append([]byte{0xff}, ones(254)...)),
	Entry("255", ones(255), slices.Concat([]byte{0xff}, ones(254), []byte{2, 1})),
	Entry("254 and a zero", append(ones(254), 0), slices.Concat([]byte{0xff}, ones(254), []byte{1, 1})),
	Entry("508", ones(508), slices.Concat([]byte{0xff}, ones(254), []byte{0xff}, ones(254))),
)

var _ = Describe("the COBS decoder", func() {
	It("accepts a last group of length nought after a full group", func() {
		for _, n := range []int{254, 508} {
			long := append(feeder.AppendCOBS(nil, ones(n)), 1)
			Expect(feeder.DecodeCOBS(nil, long)).To(Equal(ones(n)))
		}
	})
	DescribeTable("refuses what is no packet", func(p []byte) {
		_, err := feeder.DecodeCOBS(nil, p)
		Expect(err).To(HaveOccurred())
	},
		Entry("nothing", []byte{}),
		Entry("a zero", []byte{0}),
		Entry("a zero within", unhex("0311000233")),
		Entry("a group cut short", unhex("0511 2233")),
	)
})

// samples holds one message of every type, at the limits of its fields.
var samples = []feeder.Message{
	&feeder.Hello{Proto: feeder.Version, Session: 0xdeadbeef},
	&feeder.Arm{Runs: 1, Reads: 2, Tail: 3, BurstMicros: 1000, LimitMillis: 10000, LatchHigh: true},
	&feeder.Load{Offset: 7, Runs: []feeder.WireRun{{Count: 1, P1: 0x0102, P2: 0x0304}, {Count: 65535, P1: 65535}}},
	&feeder.Load{Offset: 1<<32 - 1, Runs: slices.Repeat([]feeder.WireRun{{Count: 9, P1: 1, P2: 2}}, feeder.MaxLoadRuns)},
	&feeder.Start{Kind: feeder.StartPower, HoldMillis: 2000},
	&feeder.Abort{},
	&feeder.SyncAsk{Token: 5},
	&feeder.IdentityMsg{Proto: feeder.Version, Ports: 2, Capacity: 128, Serial: strings.Repeat("s", feeder.MaxName), Firmware: "1"},
	&feeder.Ack{Status: feeder.StatusFull, State: feeder.StateDone, Credit: 1 << 31},
	&feeder.Synced{Token: 1, Micros: 1<<32 - 1},
	&feeder.Credit{Credit: 256},
	&feeder.LatchLog{First: 3, Records: slices.Repeat([]feeder.WireLatch{{Micros: 1, Clocks: 8, Clocks2: 9, P1: 3, P2: 4}}, feeder.MaxLogRecords)},
	&feeder.Underrun{Latch: 9, Read: 4},
	&feeder.Fault{Code: feeder.FaultPower, Text: strings.Repeat("t", feeder.MaxText)},
	&feeder.Done{Reason: feeder.DoneComplete, Reads: 1, Latches: 2, Underruns: 3, Faults: 4},
	&feeder.ServiceLog{First: 1<<32 - 1, Records: slices.Repeat([]feeder.WireService{{Sixteenths: 48}, {Sixteenths: 32767, Late: true}}, feeder.MaxServiceRecords/2)},
}

// take decodes everything in p.
func take(d *feeder.Decoder, p []byte) (got []feeder.Message) {
	d.Feed(p, func(p feeder.Packet) {
		m, err := p.Message()
		if err != nil {
			got = append(got, nil)
			return
		}
		got = append(got, m)
	})
	return got
}

var _ = Describe("messages", func() {
	for _, m := range samples {
		It(fmt.Sprintf("%v comes back from its frame, which keeps to the limit", m.Type()), func() {
			wire := feeder.AppendFrame(nil, 9, m)
			Expect(len(wire)).To(BeNumerically("<=", feeder.MaxWire))
			var d feeder.Decoder
			Expect(take(&d, wire)).To(Equal([]feeder.Message{m}))
		})
		It(fmt.Sprintf("%v of any other length is refused", m.Type()), func() {
			p := m.Marshal(nil)
			for n := range len(p) + 2 {
				if n == len(p) {
					continue
				}
				_, err := feeder.Packet{Type: m.Type(), Payload: append(slices.Clone(p), 0)[:n]}.Message()
				Expect(err).To(MatchError(ContainSubstring("wrong payload length")), "%d bytes", n)
			}
		})
	}

	// The bytes that PROTOCOL.md shows, so that the document and the code
	// cannot part.
	DescribeTable("go over the wire as PROTOCOL.md shows", func(seq int, m feeder.Message, want string) {
		Expect(feeder.AppendFrame(nil, uint8(seq), m)).To(Equal(unhex(want)))
	},
		Entry("HELLO", 1, &feeder.Hello{Proto: 1, Session: 0x01020304}, wireHello),
		Entry("LOAD", 3, &feeder.Load{Offset: 0, Runs: []feeder.WireRun{{Count: 60, P1: 0}, {Count: 20, P1: 0x80}}}, wireLoad),
		Entry("LATCH", 0, &feeder.LatchLog{First: 5, Records: []feeder.WireLatch{{Micros: 1_000_000, Clocks: 8, P1: 0x80}}}, wireLatch),
		Entry("SERVICE", 0, &feeder.ServiceLog{First: 5, Records: []feeder.WireService{{Sixteenths: 48}, {Sixteenths: 320, Late: true}}}, wireService),
	)

	DescribeTable("with values that no sender may use are refused", func(m feeder.Message) {
		_, err := feeder.Packet{Type: m.Type(), Payload: m.Marshal(nil)}.Message()
		Expect(err).To(HaveOccurred())
	},
		Entry("no runs", &feeder.Load{}),
		Entry("one run too many", &feeder.Load{Runs: slices.Repeat([]feeder.WireRun{{Count: 1}}, feeder.MaxLoadRuns+1)}),
		Entry("a run of no reads", &feeder.Load{Runs: []feeder.WireRun{{}}}),
		Entry("no records", &feeder.LatchLog{}),
		Entry("one record too many", &feeder.LatchLog{Records: make([]feeder.WireLatch, feeder.MaxLogRecords+1)}),
		Entry("no service records", &feeder.ServiceLog{}),
		Entry("one service record too many", &feeder.ServiceLog{Records: make([]feeder.WireService, feeder.MaxServiceRecords+1)}),
		Entry("no ports", &feeder.IdentityMsg{Proto: feeder.Version, Capacity: 1}),
		Entry("three ports", &feeder.IdentityMsg{Proto: feeder.Version, Capacity: 1, Ports: 3}),
		Entry("no buffer", &feeder.IdentityMsg{Proto: feeder.Version, Ports: 1}),
		Entry("no reason", &feeder.Done{}),
		Entry("unknown reason", &feeder.Done{Reason: feeder.DoneFault + 1}),
		Entry("unknown start", &feeder.Start{Kind: feeder.StartPower + 1}),
		Entry("unknown state", &feeder.Ack{State: feeder.StateDone + 1}),
	)

	It("of another version give their version and nothing else", func() {
		m, err := feeder.Packet{Type: feeder.TypeIdentity, Payload: []byte{77, 1, 2, 3}}.Message()
		Expect(err).NotTo(HaveOccurred())
		Expect(m).To(Equal(&feeder.IdentityMsg{Proto: 77}))
	})
})

var _ = Describe("the stream decoder", func() {
	a := feeder.AppendFrame(nil, 1, &feeder.Credit{Credit: 1})
	b := feeder.AppendFrame(nil, 2, &feeder.Credit{Credit: 2})
	ma, mb := feeder.Message(&feeder.Credit{Credit: 1}), feeder.Message(&feeder.Credit{Credit: 2})

	It("takes frames that come a byte at a time", func() {
		var d feeder.Decoder
		var got []feeder.Message
		for _, x := range slices.Concat(a, b) {
			got = append(got, take(&d, []byte{x})...)
		}
		Expect(got).To(Equal([]feeder.Message{ma, mb}))
	})

	It("drops a frame with any one byte changed, and goes on", func() {
		for i := range len(a) - 1 {
			for x := 1; x < 256; x++ {
				bad := slices.Clone(a)
				bad[i] ^= byte(x)
				var d feeder.Decoder
				Expect(take(&d, slices.Concat(bad, b))).To(Equal([]feeder.Message{mb}), "byte %d xor %#x", i, x)
				Expect(d.Bad()).To(BeNumerically(">=", 1))
			}
		}
	})

	It("drops a frame with any one byte lost, and goes on", func() {
		for i := range len(a) - 1 {
			var d feeder.Decoder
			Expect(take(&d, slices.Concat(a[:i], a[i+1:], b))).To(Equal([]feeder.Message{mb}), "byte %d", i)
		}
	})

	It("loses both frames, and no more, when the zero between them is lost", func() {
		var d feeder.Decoder
		Expect(take(&d, slices.Concat(a[:len(a)-1], b, a))).To(Equal([]feeder.Message{ma}))
		Expect(d.Bad()).To(Equal(int64(1)))
	})

	It("finds the next frame after noise of any length, in bounded memory", func() {
		var d feeder.Decoder
		Expect(take(&d, ones(1_000_000))).To(BeEmpty())
		Expect(d.Pending()).To(BeNumerically("<", feeder.MaxWire))
		Expect(take(&d, append([]byte{0}, a...))).To(Equal([]feeder.Message{ma}))
	})

	It("takes the longest frame and refuses one byte more", func() {
		frame := func(n int) []byte {
			body := bytes.Repeat([]byte{0x42}, n)
			crc := feeder.CRC16(body)
			return append(feeder.AppendCOBS(nil, append(body, byte(crc), byte(crc>>8))), 0)
		}
		count := 0
		for _, n := range []int{feeder.MaxBody, feeder.MaxBody + 1} {
			var d feeder.Decoder
			d.Feed(frame(n), func(feeder.Packet) { count++ })
			Expect(count).To(Equal(1))
		}
	})
})
