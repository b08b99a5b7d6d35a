package shrink_test

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/shrink"
	"latchproof/specs/program"
)

func parse(src string) *program.Program {
	GinkgoHelper()
	p, err := program.Parse("x.prog", []byte(src), ntsc, program.Limits{})
	Expect(err).NotTo(HaveOccurred(), src)
	return p
}

// random writes a program with nested repeats.
func random(r *rand.Rand) *program.Program {
	var b strings.Builder
	b.WriteString("program 1\n")
	var block func(depth, n int)
	block = func(depth, n int) {
		for range n {
			switch k := r.IntN(6); {
			case k == 0 && depth < 3:
				fmt.Fprintf(&b, "repeat %d\n", 1+r.IntN(4))
				block(depth+1, 1+r.IntN(3))
				b.WriteString("end\n")
			case k == 1:
				fmt.Fprintf(&b, "rest %d\n", 1+r.IntN(9))
			case k == 2:
				fmt.Fprintf(&b, "# a comment\ntap %s\n", ntsc.Buttons[r.IntN(8)])
			default:
				one, two := r.IntN(8), r.IntN(8)
				fmt.Fprintf(&b, "hold %s", ntsc.Buttons[one])
				if two != one {
					fmt.Fprintf(&b, "+%s", ntsc.Buttons[two])
				}
				fmt.Fprintf(&b, " for %d\n", 1+r.IntN(9))
			}
		}
	}
	block(0, 1+r.IntN(7))
	return parse(b.String())
}

// smaller are all programs that take one thing out: a statement, a button, a
// read of a statement, a pass of a repeat.
func smaller(p *program.Program) []*program.Program {
	var out []*program.Program
	var walk func(parts []program.Part, put func([]program.Part) []program.Part)
	walk = func(parts []program.Part, put func([]program.Part) []program.Part) {
		add := func(parts []program.Part) {
			if q, err := p.With(put(parts), program.Limits{}); err == nil { // else it is no program
				out = append(out, q)
			}
		}
		for i, x := range parts {
			add(slices.Delete(slices.Clone(parts), i, i+1))
			with := func(change func(*program.Part)) []program.Part {
				c := slices.Clone(parts)
				change(&c[i])
				return c
			}
			if x.Count > 1 {
				add(with(func(x *program.Part) { x.Count-- }))
			}
			if x.Body != nil {
				walk(x.Body, func(body []program.Part) []program.Part {
					return put(with(func(x *program.Part) { x.Body = body }))
				})
				continue
			}
			for bit := range 16 {
				if x.State.P1>>bit&1 == 1 {
					add(with(func(x *program.Part) { x.State.P1 &^= 1 << bit }))
				}
			}
		}
	}
	walk(p.Parts(), func(parts []program.Part) []program.Part { return parts })
	return out
}

// reduced runs Reduce against an oracle without noise and checks what must hold
// for any.
func reduced(p *program.Program, parts func(*program.Program) bool) shrink.Result {
	GinkgoHelper()
	tried := map[string]bool{}
	told := 0
	res, err := shrink.Reduce(context.Background(), p, func(_ context.Context, c *program.Program) (shrink.Outcome, error) {
		if tried[c.Hash()] {
			Fail("tested twice:\n" + string(c.Format()))
		}
		tried[c.Hash()] = true
		if parts(c) {
			return shrink.Outcome{Verdict: shrink.Parts, Repeats: 1, Parted: 1}, nil
		}
		return shrink.Outcome{Verdict: shrink.Stays, Repeats: 1}, nil
	}, shrink.Options{Step: func(shrink.Step) { told++ }})
	Expect(err).NotTo(HaveOccurred())
	Expect(res.Minimal).To(BeTrue())
	Expect(res.Steps).To(HaveLen(len(tried)))
	Expect(told).To(Equal(len(tried)))
	Expect(parts(res.Program)).To(BeTrue())
	for _, q := range smaller(res.Program) {
		if parts(q) {
			Fail(fmt.Sprintf("%s\ncan still become\n%s", res.Program.Format(), q.Format()))
		}
	}
	again := parse(string(res.Program.Format()))
	Expect(again.Hash()).To(Equal(res.Program.Hash()))
	return res
}

// pressed is how many reads of the program hold all of some buttons.
func pressed(p *program.Program, bits uint16) (n int64) {
	for _, r := range p.Runs() {
		if r.State.P1&bits == bits {
			n += r.Count
		}
	}
	return n
}

var _ = Describe("reducing a program", func() {
	It("keeps what is needed, where it is known what that is", func() {
		// Four reads with a and b held together, any reads.
		p := parse(`program 1  # the whole
rest 60
mark first  # a name
hold a for 3
# in it
mark second
repeat 5  # times
  tap start
  hold right+a+b for 7  # here
  rest 4
end
mark end-of-it
hold a+left for 9
`)
		res := reduced(p, func(p *program.Program) bool { return pressed(p, 3) >= 4 })
		Expect(string(res.Program.Format())).To(Equal("program 1  # the whole\n# in it\nmark second\nhold b+a for 4  # here\n"))
		Expect(res.Program.Marks()).To(Equal([]program.Mark{{Name: "second", Read: 0, Line: 6}}))
		Expect(res.Program.LineAt(2)).To(Equal(9))
		Expect(res.Steps[0].Trying).To(Equal("without lines 2-4"))
		Expect(res.Steps[0].Left).To(Equal(int64(132)))
	})

	It("keeps a repeat where every pass of it is needed", func() {
		taps := func(p *program.Program) (n int) { // presses of a, each after a rest
			var was program.State
			for _, r := range p.Runs() {
				if r.State.P1&1 == 1 && was.P1&1 == 0 {
					n++
				}
				was = r.State
			}
			return n
		}
		res := reduced(parse("program 1\nrest 9\nrepeat 40\ntap a\nrest 3\ntap b\nend\n"), func(p *program.Program) bool { return taps(p) >= 12 })
		Expect(string(res.Program.Format())).To(MatchRegexp(`^program 1\nrepeat 12\n  tap a\n  (rest 1|tap b)\nend\n$|^program 1\n(tap a\nrest 1\n){11}tap a\n$`))
	})

	It("writes a repeat out where only some of its passes matter whole", func() {
		// a, then later b, then later a again.
		res := reduced(parse("program 1\nrepeat 3\nrepeat 2\nhold a for 4\nend\nhold b for 2\nrest 8\nend\n"), func(p *program.Program) bool {
			at := 0
			for _, r := range p.Runs() {
				if want := []uint16{1, 2, 1}; at < 3 && r.State.P1&want[at] != 0 {
					at++
				}
			}
			return at == 3
		})
		Expect(string(res.Program.Format())).To(MatchRegexp(`^program 1\nhold a for 1\nhold b for 1\nhold a for 1\n$`))
	})

	It("waits where a wait is needed", func() {
		// Something at read 37 with right held.
		res := reduced(parse("program 1\nrest 20\ntap start\nrest 10\nhold right+b for 30\nhold left for 9\n"), func(p *program.Program) bool {
			return p.At(37).P1&(1<<7) != 0
		})
		Expect(res.Program.Reads()).To(Equal(int64(38)))
		Expect(pressed(res.Program, 1<<7)).To(BeNumerically(">=", 8))
	})

	It("ends 1-minimal for any program and any oracle", func() {
		r := rand.New(rand.NewPCG(5, 0))
		programs := 1500
		if testing.Short() { // under the race detector
			programs = 150
		}
		for range programs {
			p := random(r)
			whole := p.Hash()
			seed, chance := r.Uint64(), r.Uint64N(60)
			one, two := uint16(1)<<r.IntN(8), uint16(1)<<r.IntN(8)
			least := 1 + r.Int64N(4)
			harms := r.IntN(2) == 0
			reduced(p, func(p *program.Program) bool {
				if p.Hash() == whole {
					return true
				}
				if !harms {
					return pressed(p, one) >= min(least, pressed(p, one)+1) || pressed(p, two) > least
				}
				h := fnv.New64a()
				h.Write([]byte(p.Hash()))
				return rand.New(rand.NewPCG(seed, h.Sum64())).Uint64N(100) < chance
			})
		}
	})

	It("is cut first, at the first place that passes", func() {
		p := parse("program 1\nrest 10\nhold a for 20\nrest 70\n")
		var lengths []int64
		res, err := shrink.Reduce(context.Background(), p, func(_ context.Context, c *program.Program) (shrink.Outcome, error) {
			lengths = append(lengths, c.Reads())
			if pressed(c, 1) == 20 {
				return shrink.Outcome{Verdict: shrink.Parts}, nil
			}
			return shrink.Outcome{Verdict: shrink.Stays}, nil
		}, shrink.Options{Cuts: []int64{15, 40, 50, 100, 0}})
		Expect(err).NotTo(HaveOccurred())
		Expect(lengths[:2]).To(Equal([]int64{15, 40}))
		Expect(lengths[2]).To(BeNumerically("<", 40))
		Expect(string(res.Program.Format())).To(Equal("program 1\nhold a for 20\n"))
		Expect(res.Steps[0]).To(Equal(shrink.Step{Number: 1, Trying: "the first 15 reads", Left: 100, Reads: 15, Outcome: shrink.Stays, Hash: res.Steps[0].Hash}))
		Expect(res.Refused).To(BeNumerically(">", 2))
	})

	It("that is ended gives what passed, and says that it is not minimal", func(ctx context.Context) {
		p := parse("program 1\nrest 10\nhold a for 20\nrest 70\ntap b\n")
		broken := errors.New("no bench")
		for at := 1; at <= 6; at++ {
			for _, how := range []string{"error", "time", "context"} {
				ctx, cancel := context.WithCancel(ctx)
				n := 0
				res, err := shrink.Reduce(ctx, p, func(ctx context.Context, c *program.Program) (shrink.Outcome, error) {
					if n++; n == at && how == "error" {
						return shrink.Outcome{}, broken
					}
					if n == at-1 && how == "context" {
						cancel()
					}
					if pressed(c, 1) >= 5 {
						return shrink.Outcome{Verdict: shrink.Parts}, nil
					}
					return shrink.Outcome{Verdict: shrink.Stays}, nil
				}, shrink.Options{Spent: func() bool { return how == "time" && n == at-1 }})
				switch {
				case how == "error":
					Expect(err).To(MatchError(broken))
				case how == "time":
					Expect(err).To(MatchError(shrink.ErrSpent))
				case at > 1:
					Expect(err).To(MatchError(context.Canceled))
				}
				if how != "context" || at > 1 {
					Expect(res.Minimal).To(BeFalse())
					Expect(res.Steps).To(HaveLen(at - 1))
				}
				Expect(pressed(res.Program, 1)).To(BeNumerically(">=", 5))
				cancel()
			}
		}
	})

	It("does not take what cannot be told", func() {
		p := parse("program 1\nrest 10\nhold a for 20\n")
		res, err := shrink.Reduce(context.Background(), p, func(context.Context, *program.Program) (shrink.Outcome, error) {
			return shrink.Outcome{Verdict: shrink.Untold, Why: "dark"}, nil
		}, shrink.Options{})
		Expect(err).NotTo(HaveOccurred())
		Expect(res.Program.Hash()).To(Equal(p.Hash()))
		Expect(res.Untold).To(Equal(len(res.Steps)))
		Expect(res.Refused).To(BeZero())
	})
})
