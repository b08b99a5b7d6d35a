package program_test

import (
	"fmt"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/program"
)

var _ = Describe("a program", func() {
	It("is expanded into runs", func() {
		p := parse(street)
		Expect(p.Reads()).To(Equal(int64(171)))
		Expect(p.Runs()).To(Equal([]program.Run{
			{Count: 60},
			{State: program.State{P1: bitRight}, Count: 20},
			{State: program.State{P1: bitRight | bitB}, Count: 45},
			{State: program.State{P1: bitRight | bitB | bitA}, Count: 5},
			{State: program.State{P1: bitStart}, Count: 1}, {Count: 10},
			{State: program.State{P1: bitStart}, Count: 1}, {Count: 10},
			{State: program.State{P1: bitStart}, Count: 1}, {Count: 10},
			{State: program.State{P1: bitRight, P2: bitA}, Count: 8},
		}))
		Expect(p.Marks()).To(Equal([]program.Mark{{Name: "jump", Read: 125, Line: 5}}))
	})

	It("merges neighbours of equal state, across repeats too", func() {
		p := parse("program 1\nrest 1\nrepeat 3\nrest 2\nhold a for 1\ntap a\nend\nhold p1:a for 7\nrest 1\nrest 1\n")
		a := program.State{P1: bitA}
		Expect(p.Runs()).To(Equal([]program.Run{{Count: 3}, {a, 2}, {Count: 2}, {a, 2}, {Count: 2}, {a, 9}, {Count: 2}}))
	})

	// A button held for five reads is seen for exactly five: common practice,
	// no source.
	It("holds a button for exactly as many reads as it says", func() {
		p := parse("program 1\nrest 3\nhold a for 5\nrest 3\n")
		var seen []program.Read
		for r := program.Read(-5); r < 20; r++ {
			if p.At(r).P1&bitA != 0 {
				seen = append(seen, r)
			}
		}
		Expect(seen).To(Equal([]program.Read{3, 4, 5, 6, 7}))
	})

	It("knows state and line at every read", func() {
		p := parse("program 1\n\nrest 2\nrepeat 2\n  # comment\n  tap a\n  repeat 2\n    tap b\n\n    rest 1\n  end\n  # comment\nend\nmark tail\ntap start\nmark over\n")
		var states []uint16
		var lines []int
		for r := program.Read(0); r < 13; r++ {
			states = append(states, p.At(r).P1)
			lines = append(lines, p.LineAt(r))
		}
		Expect(states).To(Equal([]uint16{0, 0, bitA, bitB, 0, bitB, 0, bitA, bitB, 0, bitB, 0, bitStart}))
		Expect(lines).To(Equal([]int{3, 3, 6, 8, 10, 8, 10, 6, 8, 10, 8, 10, 15}))
		for _, outside := range []program.Read{-1, 13, 14, 1 << 62} {
			Expect(p.At(outside)).To(Equal(program.State{}))
			Expect(p.LineAt(outside)).To(BeZero())
		}
		Expect(p.Marks()).To(Equal([]program.Mark{{"tail", 12, 14}, {"over", 13, 16}}))
	})

	It("agrees with itself read by read", func() {
		p := parse(street)
		r := program.Read(0)
		for _, run := range p.Runs() {
			for range run.Count {
				Expect(p.At(r)).To(Equal(run.State), "read %d", r)
				r++
			}
		}
		Expect(int64(r)).To(Equal(p.Reads()))
	})

	It("cannot be changed through its marks", func() {
		p := parse(street)
		p.Marks()[0].Name = "changed"
		Expect(p.Marks()[0].Name).To(Equal("jump"))
	})
})

var _ = Describe("the program hash", func() {
	// Expected values by Python 3.11 hashlib, independent of this code; with
	// the runs as (port 1, port 2, reads):
	//
	//	python3 -c "
	//	import hashlib, struct
	//	def h(runs): return hashlib.sha256(b'latchproof button stream 1\n' + b''.join(struct.pack('<HH', a, b)*n for a, b, n in runs)).hexdigest()
	//	print(h([(0,0,60),(128,0,20),(130,0,45),(131,0,5)] + [(8,0,1),(0,0,10)]*3 + [(128,1,8)]))
	//	print(h([(0,0,1)]))
	//	print(h([(0,0,864000)]))
	//	print(h([(0x8000,0x0102,3)]))"
	It("is SHA-256 of the expanded stream", func() {
		Expect(parse(street).Hash()).To(Equal("c3e579dcdcd8ebd8992ecdbb0672b9378c4670f072677a97f926c003d64e20ba"))
		Expect(parse("program 1\nrest 1\n").Hash()).To(Equal("3b05d5bf96806c1812c748d11d6f345aefda4934736fbd7e632554acf96e64eb"))
		Expect(parse("program 1\nrest 864000\n").Hash()).To(Equal("4455f93db55562c6103d017877c16648d6f5f1ff7ba47970fec25b22a004b18e"))
	})

	It("uses all 16 bits, little endian", func() {
		wide := ntsc
		wide.Buttons = strings.Split("a b c d e f g h i j k l m n o p", " ")
		p, err := program.Parse("x", []byte("program 1\nhold p + p2:b + p2:i for 3\n"), wide, program.Limits{})
		Expect(err).NotTo(HaveOccurred())
		Expect(p.At(0)).To(Equal(program.State{P1: 0x8000, P2: 0x0102}))
		Expect(p.Hash()).To(Equal("f68fda4cb35cb79367f2629bc61e8a0c6e2230d1ba17c6ffbf23870106a205d7"))
	})

	It("is equal for equal effect", func() {
		want := parse("program 1\nrest 2\ntap a\nrest 2\ntap a\nrest 1\n").Hash()
		for _, src := range []string{
			"program 1 # comment\n# more\nrest 1\nrest 1\nhold a for 1\nrest 2\nmark x\ntap a\nrest 1\n",
			"program 1\nrest 1\nrepeat 2\nrest 1\ntap a\nrest 1\nend\n",
			"\ufeffprogram 1\r\nrest 002\r\nhold p1:a for 1\r\nrest 2\r\ntap a\r\nrest 1",
		} {
			Expect(parse(src).Hash()).To(Equal(want), src)
		}
	})

	It("differs for another effect", func() {
		seen := map[string]string{}
		for _, body := range []string{"rest 1", "rest 2", "tap a", "tap b", "tap p2:a", "tap a+p2:a", "rest 1\ntap a", "tap a\nrest 1"} {
			h := parse("program 1\n" + body + "\n").Hash()
			Expect(seen).NotTo(HaveKey(h), body)
			seen[h] = body
		}
	})
})

var _ = Describe("canonical text", func() {
	It("keeps structure, comments and marks", func() {
		src := "\ufeff\tprogram  1#head  \r\n\r\n\r\n# one\r\nrest   060\r\nmark naïve-start#m\r\nhold p2:b +b+ right+p2:a   for 5 # h\t\r\nrepeat 2 # twice\r\n\r\n\r\ntap p1:a\r\n # in\r\nrepeat 1\r\nrest 1\r\nend #one\r\n\r\nend\r\n\r\n\r\n"
		p := parse(src)
		Expect(string(p.Format())).To(Equal(`program 1  #head

# one
rest 60
mark naïve-start  #m
hold right+b+p2:b+p2:a for 5  # h
repeat 2  # twice

  tap a
  # in
  repeat 1
    rest 1
  end  #one

end
`))
		again := parse(string(p.Format()))
		Expect(again.Format()).To(Equal(p.Format()))
		Expect(again.Hash()).To(Equal(p.Hash()))
		Expect(again.Marks()).To(Equal([]program.Mark{{Name: "naïve-start", Read: 60, Line: 5}}))
	})
})

var _ = Describe("mark names", func() {
	DescribeTable("are told from offsets",
		func(name string, ok bool) {
			Expect(program.ValidMark(name)).To(Equal(ok))
		},
		Entry(nil, "jump", true), Entry(nil, "first-lamp", true), Entry(nil, "Sprung_2", true), Entry(nil, "öl", true),
		Entry(nil, strings.Repeat("x", 64), true), Entry(nil, strings.Repeat("x", 65), false),
		Entry(nil, "", false), Entry(nil, "2nd", false), Entry(nil, "jump-2", false), Entry(nil, "jump+2", false),
		Entry(nil, "jump-", false), Entry(nil, "_x", false), Entry(nil, "a b", false), Entry(nil, "a\n", false),
	)
})

var _ = Describe("limits", func() {
	// 1.4e11 steps when every line were visited in every pass.
	It("are about reads, however many lines without any stand in a repeat", func() {
		p := parse("program 1\nrepeat 860000\nrest 1\n" + strings.Repeat("\n#\n", 80_000) + "end\ntap a\n")
		Expect(p.Runs()).To(Equal([]program.Run{{Count: 860_000}, {State: program.State{P1: bitA}, Count: 1}}))
		Expect(p.Hash()).To(Equal(parse("program 1\nrest 860000\ntap a\n").Hash()))
	})

	reads := func(src string, lim program.Limits) error {
		_, err := program.Parse("x.prog", []byte(src), ntsc, lim)
		return err
	}
	It("allows the longest program and no read more", func() {
		Expect(reads("program 1\nrest 864000\n", program.Limits{})).To(Succeed())
		Expect(reads("program 1\nrest 864001\n", program.Limits{})).
			To(MatchError("x.prog:2:6: the program is 864001 reads long; the limit is 864000"))
		Expect(reads("program 1\nrest 863999\ntap a\n", program.DefaultLimits)).To(Succeed())
		Expect(reads("program 1\nrest 864000\ntap a\nrest 5\n", program.DefaultLimits)).
			To(MatchError("x.prog:3:1: the program is 864006 reads long; the limit is 864000"))
		Expect(reads("program 1\nrepeat 10\nrest 1\nend\n", program.Limits{Reads: 10})).To(Succeed())
		Expect(reads("program 1\nrepeat 11\nrest 1\nend\n", program.Limits{Reads: 10})).
			To(MatchError("x.prog:2:8: the program is 11 reads long; the limit is 10"))
	})

	It("allows the deepest nesting and no repeat more", func() {
		nested := func(n int) string {
			return "program 1\n" + strings.Repeat("repeat 1\n", n) + "tap a\n" + strings.Repeat("end\n", n)
		}
		Expect(reads(nested(16), program.Limits{})).To(Succeed())
		Expect(reads(nested(17), program.Limits{})).
			To(MatchError("x.prog:18:1: repeat nested 17 deep; the limit is 16"))
		Expect(reads(nested(2), program.Limits{Nesting: 2})).To(Succeed())
		Expect(reads(nested(3), program.Limits{Nesting: 2})).
			To(MatchError("x.prog:4:1: repeat nested 3 deep; the limit is 2"))
	})

	It("says so once, where the limit is first passed", func() {
		Expect(reads("program 1\nrest 5\nrepeat 2\nrepeat 4\nrest 3\nend\nend\nrest 99\n", program.Limits{Reads: 10})).
			To(MatchError("x.prog:4:8: the program is 128 reads long; the limit is 10"))
	})

	It("does not wrap around", func() {
		for _, n := range []string{"9223372036854775807", "9223372036854775808", "99999999999999999999999"} {
			Expect(reads("program 1\nrest "+n+"\nrest 1\n", program.Limits{})).
				To(MatchError("x.prog:2:6: the program is at least 9223372036854775807 reads long; the limit is 864000"), n)
		}
		// 2^32 x 2^32 is 0 in 64 bits.
		Expect(reads("program 1\nrepeat 4294967296\nrest 4294967296\nend\n", program.Limits{})).
			To(MatchError("x.prog:3:6: the program is at least 9223372036854775807 reads long; the limit is 864000"))
		Expect(reads("program 1\n"+strings.Repeat("repeat 4294967296\n", 4)+"tap a\n"+strings.Repeat("end\n", 4), program.Limits{})).
			To(MatchError("x.prog:5:8: the program is at least 9223372036854775807 reads long; the limit is 864000"))
	})

	It("refuses an enormous program without expanding it", func() {
		nested := func(n int) []byte {
			return []byte("program 1\n" + strings.Repeat(fmt.Sprintf("repeat %d\n", n), 15) + "tap a\n" + strings.Repeat("end\n", 15))
		}
		Expect(reads(string(nested(10)), program.Limits{})).
			To(MatchError("x.prog:11:8: the program is 1000000000000000 reads long; the limit is 864000"))
		huge := bytesAllocated(func() { _, _ = program.Parse("x", nested(10), ntsc, program.Limits{}) })
		one := bytesAllocated(func() { _, _ = program.Parse("x", nested(1), ntsc, program.Limits{}) })
		Expect(huge).To(BeNumerically("<", 64<<10), "bytes")
		Expect(huge).To(BeNumerically("<", 2*one+4096), "bytes")

		rows := []byte("from,to,buttons\n999999999999999,1000000000000000,a\n")
		_, err := program.ImportCSV("x.csv", rows, ntsc, program.Limits{})
		Expect(err).To(MatchError("x.csv:2:17: the program is 1000000000000001 reads long; the limit is 864000"))
		Expect(bytesAllocated(func() { _, _ = program.ImportCSV("x", rows, ntsc, program.Limits{}) })).
			To(BeNumerically("<", 64<<10), "bytes")
	})

	It("keeps a long program small until it is expanded", func() {
		src := []byte("program 1\nrepeat 432000\ntap a\nrest 1\nend\n")
		var p *program.Program
		Expect(bytesAllocated(func() {
			p, _ = program.Parse("x", src, ntsc, program.Limits{})
			p.Hash()
			p.At(863999)
		})).To(BeNumerically("<", 64<<10), "bytes")
		Expect(p.Runs()).To(HaveLen(864000))
	})
})
