package program_test

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/specs/program"
)

const commented = `program 1  # head

# before the rest
rest 60
mark jump  # a name
tap a  # pressed
repeat 3  # thrice
  # in it
  tap start  # s
  rest 10
  # last in it
end  # done
hold right for 8
# after all
mark end-of-it
`

func with(p *program.Program, parts []program.Part) *program.Program {
	GinkgoHelper()
	q, err := p.With(parts, program.Limits{})
	Expect(err).NotTo(HaveOccurred())
	return q
}

var _ = Describe("parts", func() {
	It("put together again are the same text, marks and lines", func() {
		p := parse(commented)
		q := with(p, p.Parts())
		Expect(string(q.Format())).To(Equal(commented))
		Expect(q.Marks()).To(Equal(p.Marks()))
		for r := range program.Read(p.Reads()) {
			Expect(q.LineAt(r)).To(Equal(p.LineAt(r)))
		}
	})

	It("take their marks and comments with them", func() {
		p := parse(commented)
		parts := p.Parts()
		Expect(parts).To(HaveLen(4))
		Expect(string(with(p, slices.Delete(slices.Clone(parts), 1, 2)).Format())).To(Equal(`program 1  # head

# before the rest
rest 60
repeat 3  # thrice
  # in it
  tap start  # s
  rest 10
  # last in it
end  # done
hold right for 8
# after all
mark end-of-it
`))
		Expect(string(with(p, parts[1:3]).Format())).To(Equal(`program 1  # head
mark jump  # a name
tap a  # pressed
repeat 3  # thrice
  # in it
  tap start  # s
  rest 10
  # last in it
end  # done
`))
	})

	It("are written as what they have become", func() {
		p := parse("program 1\ntap a\ntap b  # b\nhold right+b for 3\n")
		parts := p.Parts()
		parts[0].Count = 4
		parts[1].State = program.State{}
		parts[2].State, parts[2].Count = program.State{P1: bitRight}, 1
		Expect(string(with(p, parts).Format())).To(Equal("program 1\nhold a for 4\nrest 1  # b\nhold right for 1\n"))
		Expect(p.Names(program.State{P1: bitRight, P2: bitA})).To(Equal("right+p2:a"))
	})

	It("are cut to their first reads", func() {
		p := parse(commented)
		runs := func(p *program.Program) (all []program.State) {
			for r := range program.Read(p.Reads()) {
				all = append(all, p.At(r))
			}
			return all
		}
		whole := runs(p)
		for n := int64(1); n <= p.Reads(); n++ {
			q := with(p, program.Cut(p.Parts(), n))
			Expect(runs(q)).To(Equal(whole[:n]))
		}
		Expect(string(with(p, program.Cut(p.Parts(), 61+11+4)).Format())).To(Equal(`program 1  # head

# before the rest
rest 60
mark jump  # a name
tap a  # pressed
repeat 1  # thrice
  # in it
  tap start  # s
  rest 10
  # last in it
end  # done
# in it
tap start  # s
rest 3
`))
		Expect(program.Cut(p.Parts(), 0)).To(BeEmpty())
	})

	It("of a repeat can be written out", func() {
		p := parse(commented)
		parts := p.Parts()
		q := with(p, slices.Concat(parts[:2], parts[2].Unrolled(), parts[3:]))
		Expect(q.Hash()).To(Equal(p.Hash()))
		Expect(q.Marks()).To(HaveLen(2))
		Expect(string(q.Format())).To(ContainSubstring("tap a  # pressed\n# thrice\n# in it\ntap start  # s\nrest 10\n# last in it\n# in it\n"))
		Expect(string(q.Format())).To(ContainSubstring("# last in it\n# done\nhold right for 8\n"))
	})

	It("that press the same are joined", func() {
		p := parse(`program 1
# one
rest 3  # a
# two
rest 4  # b
mark here
rest 5
repeat 2  # c
  repeat 3
    tap a
    hold a for 2
    # last
  end
end  # d
hold a for 4
hold b for 1
repeat 2
  tap a
  tap b
end
`)
		q := with(p, program.Joined(p.Parts()))
		Expect(q.Hash()).To(Equal(p.Hash()))
		Expect(q.Marks()).To(HaveLen(1))
		Expect(string(q.Format())).To(Equal(`program 1
# one
# two
rest 7  # a
mark here
rest 5
# last
hold a for 22  # c
hold b for 1
repeat 2
  tap a
  tap b
end
`))
		Expect(program.Joined(nil)).To(BeEmpty())
	})

	It("can have lines put before them", func() {
		p := parse("program 1\ntap a\n")
		Expect(string(p.Preface("one", "", "two").Format())).To(Equal("program 1\n# one\n\n# two\ntap a\n"))
		Expect(string(p.Format())).To(Equal("program 1\ntap a\n"))
		q := parse(commented)
		r := q.Preface("one", "", "two")
		Expect(r.Hash()).To(Equal(q.Hash()))
		Expect(r.Runs()).To(Equal(q.Runs()))
		Expect(r.Preface().Runs()).To(Equal(q.Runs()))
	})

	It("that make no program are refused", func() {
		p := parse(commented)
		refused := func(parts []program.Part, lim program.Limits, why string) {
			GinkgoHelper()
			_, err := p.With(parts, lim)
			Expect(err).To(MatchError(ContainSubstring(why)))
		}
		parts := p.Parts()
		refused(nil, program.Limits{}, "no parts")
		refused([]program.Part{{Count: 2, Body: []program.Part{}}}, program.Limits{}, "no parts")
		refused([]program.Part{{Line: 7, Count: 0}}, program.Limits{}, "line 7: count 0 must be 1 or more")
		refused([]program.Part{{Count: 1, State: program.State{P1: 1 << 8}}}, program.Limits{}, "holds a button that console ntsc-8bit has not")
		refused(slices.Concat(parts[:2], parts[1:]), program.Limits{}, `mark "jump" twice`)
		refused([]program.Part{{Line: 3, Count: 2, Body: parts[:2]}}, program.Limits{}, `mark "jump" inside a repeat`)
		refused(parts, program.Limits{Reads: p.Reads() - 1}, "the limit is 101")
		refused([]program.Part{{Line: 3, Count: 1, Body: []program.Part{{Count: 1, Body: parts[:1]}}}}, program.Limits{Nesting: 1}, "repeat nested 2 deep; the limit is 1")
		one := p.Reads()
		_, err := p.With(parts, program.Limits{Reads: one, Nesting: 1})
		Expect(err).NotTo(HaveOccurred())
	})
})

// subset keeps each statement with a chance of one half, also inside repeats,
// and shortens or releases some of what stays.
func subset(parts []program.Part, r *rand.Rand) []program.Part {
	var out []program.Part
	for _, p := range parts {
		if r.IntN(2) == 0 {
			continue
		}
		if p.Body != nil {
			if p.Body = subset(p.Body, r); len(p.Body) == 0 {
				continue
			}
		} else if r.IntN(4) == 0 {
			p.State.P1 &= uint16(r.Uint32())
		}
		p.Count = 1 + r.Int64N(p.Count)
		if p.Body != nil && r.IntN(3) == 0 && p.Count < 20 {
			out = append(out, p.Unrolled()...)
			continue
		}
		out = append(out, p)
	}
	return out
}

// written is what parts press, one state a read.
func written(parts []program.Part) (all []program.State) {
	for _, p := range parts {
		for range p.Count {
			if p.Body == nil {
				all = append(all, p.State)
			} else {
				all = append(all, written(p.Body)...)
			}
		}
	}
	return all
}

// FuzzParts: any subset of the statements of any program, changed in any
// smaller way, is a program that reads back to what its parts press.
func FuzzParts(f *testing.F) {
	f.Add([]byte(commented), uint64(1))
	f.Add([]byte(street), uint64(2))
	f.Add([]byte("program 1\nrepeat 3\n# c\n\nrepeat 2 #x\ntap p2:a+p1:b\n\nend#y\n\nend\nmark x\n"), uint64(3))
	f.Fuzz(func(t *testing.T, src []byte, seed uint64) {
		p, err := program.Parse("f", src, ntsc, fuzzLimits)
		if err != nil {
			return
		}
		same, err := p.With(p.Parts(), fuzzLimits)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(same.Format(), p.Format()) {
			t.Fatalf("%s\nput together again is\n%s", p.Format(), same.Format())
		}
		joined, err := p.With(program.Joined(p.Parts()), fuzzLimits)
		if err != nil {
			t.Fatal(err)
		}
		if joined.Hash() != p.Hash() || len(joined.Marks()) != len(p.Marks()) {
			t.Fatalf("%s\njoined is\n%s", p.Format(), joined.Format())
		}
		for i, m := range joined.Marks() {
			if was := p.Marks()[i]; m.Name != was.Name || m.Read != was.Read {
				t.Fatalf("%v became %v", was, m)
			}
		}
		checkProgram(t, joined)
		r := rand.New(rand.NewPCG(seed, 0))
		parts := subset(p.Parts(), r)
		if r.IntN(3) == 0 && len(parts) > 0 {
			parts = program.Cut(parts, 1+r.Int64N(program.ReadsOf(parts)))
		}
		q, err := p.With(parts, fuzzLimits)
		if len(parts) == 0 {
			if err == nil {
				t.Fatal("a program of nothing")
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		checkProgram(t, q)
		all := written(parts)
		if int64(len(all)) != q.Reads() {
			t.Fatalf("%d reads, %d written", q.Reads(), len(all))
		}
		for i, s := range all {
			if q.At(program.Read(i)) != s {
				t.Fatalf("read %d is %v, not %v", i, q.At(program.Read(i)), s)
			}
		}
	})
}
