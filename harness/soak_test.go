package harness_test

import (
	"bufio"
	"context"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/checks"
	"latchproof/harness/lockstep"
	"latchproof/harness/record"
	"latchproof/harness/soak"
	"latchproof/harness/stats"
	"latchproof/specs"
)

// few is a program of two thirds of a second.
const few = "program 1\nhold right for 10\nrest 24\n"

// soakSpec writes a spec of a program with no checkpoint into a folder.
func soakSpec(dir, program string) (*specs.Spec, error) {
	spec := "version: 1\nspec: few\nprogram: p.prog\nconsole: ntsc-8bit\nrepeats: 2\ntail: 2\n"
	for name, text := range map[string]string{"p.prog": program, "few.spec.yaml": spec} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			return nil, err
		}
	}
	return specs.Load(filepath.Join(dir, "few.spec.yaml"), checks.All)
}

// soakBench is a bench that is cheap to play on.
func soakBench(change func(*sim.Config)) (*sim.Bench, error) {
	cfg := sim.Default()
	cfg.Seed = 5
	cfg.Console.Scene = "street"
	cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 256, 240, image.Rect(0, 0, 256, 240)
	if change != nil {
		change(&cfg)
	}
	return sim.New(cfg, sim.Options{Pipe: true})
}

// parting is a bench whose repeats from one on part now and then.
func parting(c *sim.Config) {
	c.Troubles = append(c.Troubles,
		sim.Trouble{Name: "extra-clock", Repeats: []int{4, 7}, At: []int64{5}},
		sim.Trouble{Name: "lost-log", Repeats: []int{5}, At: []int64{9}})
}

var claim = stats.Claim{Below: 0.3, Confidence: 0.9} // seven clean repeats

type soaked struct {
	out  string
	spec *specs.Spec
	p    *harness.Player
}

func newSoaked(program string, change func(*sim.Config)) soaked {
	GinkgoHelper()
	s, err := soakSpec(GinkgoT().TempDir(), program)
	Expect(err).NotTo(HaveOccurred())
	b, err := soakBench(change)
	Expect(err).NotTo(HaveOccurred())
	out := GinkgoT().TempDir()
	return soaked{out, s, &harness.Player{Bench: b, Out: out, Version: "test"}}
}

func (x soaked) begin(o harness.SoakOptions) *harness.Soak {
	GinkgoHelper()
	if o.Keep == "" {
		o.Keep = soak.Lean
	}
	if o.Claim == (stats.Claim{}) {
		o.Claim = claim
	}
	k, err := harness.BeginSoak(x.p, x.spec, o)
	Expect(err).NotTo(HaveOccurred())
	return k
}

func (x soaked) run(ctx context.Context, k *harness.Soak) *harness.Soak {
	GinkgoHelper()
	Expect(k.Run(ctx)).To(Succeed())
	Expect(k.Close()).To(Succeed())
	return k
}

func (x soaked) entries() []soak.Entry {
	GinkgoHelper()
	c, err := soak.ReadFile(x.out)
	Expect(err).NotTo(HaveOccurred())
	Expect(c.Torn).To(BeFalse())
	return c.Entries
}

// settled are the entries of finished repeats, without their times.
func settled(list []soak.Entry) (out []soak.Entry) {
	for _, e := range list {
		if e.Outcome != soak.Stopped {
			e.At = time.Time{}
			out = append(out, e)
		}
	}
	return out
}

func outcomes(list []soak.Entry) (out []soak.Outcome) {
	for _, e := range list {
		out = append(out, e.Outcome)
	}
	return out
}

func (x soaked) has(n int, name string) bool {
	_, err := os.Stat(filepath.Join(x.out, "few", fmt.Sprintf("run-%03d", n), name))
	return err == nil
}

var _ = Describe("a soak", func() {
	It("plays until the claim is proven, and keeps what the policy says", func(ctx context.Context) {
		x := newSoaked(few, nil)
		k := x.begin(harness.SoakOptions{})
		var lines []string
		k.Told = func(l string) { lines = append(lines, l) }
		x.run(ctx, k)
		Expect(k.Verdict()).To(Equal(harness.Held))
		Expect(k.ExitCode()).To(Equal(0))
		// (1-0.3)^7 = 0.082 is the first power below 0.1.
		Expect(k.Tally().Clean).To(BeEquivalentTo(7))
		Expect(lines).To(HaveLen(8))
		Expect(lines[2]).To(Equal("repeat 3: 2 clean; 5 more clean repeats would prove it"))
		Expect(k.Sentence()).To(HavePrefix("Proven: divergence below 30% at 90%; 7 of 7 repeats stayed in lockstep with the first, over "))
		for n := 1; n <= 8; n++ {
			r, err := record.Open(filepath.Join(x.out, "few", fmt.Sprintf("run-%03d", n)))
			Expect(err).NotTo(HaveOccurred())
			Expect(r.Has(record.CaptureFile)).To(Equal(n == 1))
			Expect(x.has(n, record.CaptureFile)).To(Equal(n == 1))
			Expect(x.has(n, record.TraceFile)).To(BeTrue())
		}
		_, err := harness.JudgeRecorded(ctx, filepath.Join(x.out, "few", "run-002"), x.spec, false, nil)
		Expect(err).To(MatchError(record.ErrDropped))
		Expect(err).To(MatchError(HaveSuffix("run-002: capture.mkv was dropped: not kept by policy lean")))

		By("having nothing more to do when it is resumed, and telling the same")
		again, err := harness.ResumeSoak(x.p, x.spec, "")
		Expect(err).NotTo(HaveOccurred())
		x.run(ctx, again)
		Expect(again.Sentence()).To(Equal(k.Sentence()))
		Expect(again.Families()).To(Equal(k.Families()))
		s, err := again.Report(ctx, "test", "test")
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Specs[0].Verdict).To(Equal(harness.Held))
		Expect(s.Specs[0].Repeats).To(HaveLen(1))
		Expect(s.Specs[0].Lockstep.InStep).To(Equal(8))
	})

	It("plays until the claim is refuted", func(ctx context.Context) {
		if testing.Short() {
			Skip("another soak takes long under the race detector")
		}
		x := newSoaked(few, func(c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "extra-clock", Repeats: []int{2, 3, 4, 5, 6, 7}, At: []int64{5}})
		})
		k := x.run(ctx, x.begin(harness.SoakOptions{}))
		Expect(k.Verdict()).To(Equal(harness.NotHeld))
		Expect(k.ExitCode()).To(Equal(1))
		Expect(k.Sentence()).To(HavePrefix("Refuted: divergence below 30% at 90%; 0 of "))
		Expect(k.Sentence()).To(ContainSubstring("the earliest parting is at frame "))
		Expect(k.Families()).To(HaveLen(2))
		Expect(x.has(2, record.CaptureFile)).To(BeTrue(), "it is the first of its family")
		Expect(x.has(3, record.CaptureFile)).To(BeFalse())
		s, err := k.Report(ctx, "test", "test")
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Specs[0].Divergences).To(HaveLen(1))
		Expect(s.Specs[0].Divergences[0].PictureB).NotTo(BeNil())
		Expect(s.Specs[0].Lockstep.Families[1].Repeats).To(Equal([]string{"repeat 2"}))
	})

	It("leaves out what says nothing, and ends when nothing else comes", func(ctx context.Context) {
		if testing.Short() {
			Skip("another soak takes long under the race detector")
		}
		x := newSoaked(few, parting)
		k := x.run(ctx, x.begin(harness.SoakOptions{Most: 8}))
		Expect(outcomes(x.entries())).To(Equal([]soak.Outcome{
			soak.Reference, soak.Clean, soak.Clean, soak.Parted, soak.Left, soak.Clean, soak.Parted, soak.Clean}))
		Expect(k.Verdict()).To(Equal(harness.CannotTell))
		Expect(k.Sentence()).To(ContainSubstring("1 left out"))
		Expect(k.Sentence()).To(HaveSuffix("it ended because no more than 8 repeats may be played."))
		Expect(k.Tally().Reasons).To(ConsistOf(HavePrefix("repeat 5 was left out: ")))

		x = newSoaked(few, func(c *sim.Config) { c.Card.LatencyHalf = 0 })
		k = x.run(ctx, x.begin(harness.SoakOptions{}))
		Expect(k.Tally().LeftOut).To(BeEquivalentTo(harness.LeftInRow))
		Expect(k.ExitCode()).To(Equal(3))
		Expect(k.Sentence()).To(ContainSubstring("the last 20 repeats say nothing"))
	})

	It("leaves out what may be the capture card's doing", func(ctx context.Context) {
		if testing.Short() {
			Skip("another soak takes long under the race detector")
		}
		x := newSoaked("program 1\nhold right for 90\nrest 30\n", func(c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "latency", Repeats: []int{2}, At: []int64{40}, Strength: 34_000})
		})
		k := x.run(ctx, x.begin(harness.SoakOptions{Most: 3}))
		e := x.entries()[1]
		Expect(e.Outcome).To(Equal(soak.Left), "%+v", e)
		Expect(e.Why).To(ContainSubstring("capture card"))

		t := k.Tally()
		Expect(t.Trials()).To(BeEquivalentTo(1))
		Expect(t.Doubtful).To(BeEquivalentTo(1))
		Expect(k.Families()).To(HaveLen(2))
		Expect(x.has(2, record.CaptureFile)).To(BeTrue())
	})

	It("ends when the board is gone", func(ctx context.Context) {
		if testing.Short() {
			Skip("another soak takes long under the race detector")
		}
		x := newSoaked(few, func(c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "unplug", Repeats: []int{3}, At: []int64{9}})
		})
		k := x.run(ctx, x.begin(harness.SoakOptions{}))
		Expect(outcomes(x.entries())).To(Equal([]soak.Outcome{soak.Reference, soak.Clean, soak.Left}))
		Expect(k.Sentence()).To(ContainSubstring("the bench is gone"))
		Expect(k.ExitCode()).To(Equal(3))
		again, err := harness.ResumeSoak(x.p, x.spec, "")
		Expect(err).NotTo(HaveOccurred())
		x.run(ctx, again)
		Expect(again.ExitCode()).To(Equal(0), again.Sentence())
	})

	It("honours the time of one repeat, and is stopped by an interrupt", func(ctx context.Context) {
		x := newSoaked(few, nil)
		k := x.run(ctx, x.begin(harness.SoakOptions{Most: 2, Timeout: time.Millisecond}))
		Expect(outcomes(x.entries())).To(Equal([]soak.Outcome{soak.Left, soak.Left}))
		Expect(k.Tally().Reasons[0]).To(HavePrefix("repeat 1 was left out: stopped: out of time"))

		x = newSoaked(few, nil)
		k = x.begin(harness.SoakOptions{})
		within, cancel := context.WithCancel(ctx)
		x.p.Progress = after{8, cancel}
		x.run(within, k)
		Expect(outcomes(x.entries())).To(Equal([]soak.Outcome{soak.Stopped}))
		Expect(k.Sentence()).To(ContainSubstring("it was interrupted"))
		Expect(filepath.Join(x.out, "few", "run-001")).NotTo(BeAnExistingFile())
		x.p.Progress = nil
		k, err := harness.ResumeSoak(x.p, x.spec, "")
		Expect(err).NotTo(HaveOccurred())
		x.run(ctx, k)
		Expect(k.ExitCode()).To(Equal(0))
	})

	It("goes on with nothing but what it began with", func(ctx context.Context) {
		x := newSoaked(few, nil)
		x.run(ctx, x.begin(harness.SoakOptions{Most: 1}))
		other := newSoaked("program 1\nrest 34\n", nil)
		_, err := harness.ResumeSoak(x.p, other.spec, "")
		Expect(err).To(MatchError(soak.ErrOther))
		b, err := soakBench(func(c *sim.Config) { c.Seed++ })
		Expect(err).NotTo(HaveOccurred())
		_, err = harness.ResumeSoak(&harness.Player{Bench: b, Out: x.out}, x.spec, "")
		Expect(err).To(MatchError(soak.ErrOther))
		Expect(err).To(MatchError(ContainSubstring("the bench ")))
		_, err = harness.ResumeSoak(x.p, x.spec, "")
		Expect(err).NotTo(HaveOccurred())
	})

	It("enters a repeat that was sealed and not yet in the journal, and finishes a drop", func(ctx context.Context) {
		if testing.Short() {
			Skip("another soak takes long under the race detector")
		}
		x := newSoaked(few, parting)
		whole := newSoaked(few, parting)
		x.run(ctx, x.begin(harness.SoakOptions{Most: 6, Keep: soak.All}))
		whole.run(ctx, whole.begin(harness.SoakOptions{Most: 8}))
		// The journal loses its last three lines, and its policy is lean.
		want := settled(whole.entries())
		src, err := os.ReadFile(filepath.Join(x.out, soak.FileName))
		Expect(err).NotTo(HaveOccurred())
		lines := strings.SplitAfter(string(src), "\n")
		Expect(os.WriteFile(filepath.Join(x.out, soak.FileName), []byte(strings.Join(lines[:4], "")), 0o666)).To(Succeed())
		k, err := harness.ResumeSoak(x.p, x.spec, "")
		Expect(err).NotTo(HaveOccurred())
		k.Extend(8)
		x.run(ctx, k)
		// Repeat 5, which is partial, is entered as stopped and played again.
		Expect(outcomes(x.entries())[4]).To(Equal(soak.Stopped))
		Expect(settled(x.entries())).To(Equal(want))
		Expect(x.has(5, record.RunFile)).To(BeTrue())
		Expect(filepath.Join(x.out, "few", "stopped-005-1", record.RunFile)).To(BeAnExistingFile())
	})

	It("comes to the same journal however often it is killed", func(ctx context.Context) {
		kills := 25
		if testing.Short() {
			kills = 2
		}
		if n, err := strconv.Atoi(os.Getenv("LATCHPROOF_KILLS")); err == nil {
			kills = n
		}
		whole := newSoaked(few, parting)
		whole.run(ctx, whole.begin(harness.SoakOptions{Most: victimMost}))
		want := settled(whole.entries())
		rnd := rand.New(rand.NewPCG(uint64(GinkgoRandomSeed()), 1))
		killed, sessions, at := 0, 0, map[soak.Outcome]int{}
		for killed < kills {
			dir := GinkgoT().TempDir()
			sessions++
			for {
				cmd := exec.Command(os.Args[0], "-test.run=^TestSoakVictim$")
				cmd.Env = append(os.Environ(), "SOAK_TEST_VICTIM="+dir)
				var said strings.Builder
				out, err := cmd.StdoutPipe()
				Expect(err).NotTo(HaveOccurred())
				Expect(cmd.Start()).To(Succeed())
				lines := bufio.NewReader(out)
				_, err = lines.ReadString('\n') // it is past its start
				Expect(err).NotTo(HaveOccurred())
				done := make(chan error, 1)
				go func() {
					_, _ = io.Copy(&said, lines)
					done <- cmd.Wait()
				}()
				patience := time.Hour
				if killed < kills {
					patience = time.Duration(rnd.IntN(700)) * time.Millisecond
				}
				var ended error
				select {
				case ended = <-done:
					Expect(ended).NotTo(HaveOccurred(), said.String())
				case <-time.After(patience):
					_ = cmd.Process.Kill() // it may have ended in this moment
					ended = <-done
				}
				if ended == nil {
					break
				}
				killed++
			}
			c, err := soak.ReadFile(dir)
			Expect(err).NotTo(HaveOccurred())
			for _, e := range c.Entries {
				at[e.Outcome]++
			}
			Expect(c.Torn).To(BeFalse())
			got := settled(c.Entries)
			Expect(got).To(HaveLen(len(want)))
			for i := range want {
				Expect(got[i]).To(Equal(want[i]))
			}
			checkKept(dir)
			Expect(os.RemoveAll(dir)).To(Succeed())
		}
		GinkgoWriter.Printf("%d kills in %d soaks, outcomes %v\n", killed, sessions, at)
	})
})

// checkKept holds the folders of a finished soak against the policy.
func checkKept(dir string) {
	GinkgoHelper()
	runs, err := os.ReadDir(filepath.Join(dir, "few"))
	Expect(err).NotTo(HaveOccurred())
	Expect(runs).To(HaveLen(victimMost))
	for _, r := range runs {
		folder := filepath.Join(dir, "few", r.Name())
		_, err := record.Open(folder)
		_, video := os.Stat(filepath.Join(folder, record.CaptureFile))
		switch r.Name() {
		case "run-001", "run-004": // the reference, and the first of the other family
			Expect(err).NotTo(HaveOccurred())
			Expect(video).NotTo(HaveOccurred())
		case "run-005": // troubled
			Expect(err).To(MatchError(record.ErrPartial))
			Expect(video).NotTo(HaveOccurred())
		default:
			Expect(err).NotTo(HaveOccurred())
			Expect(video).To(HaveOccurred(), folder)
		}
	}
}

const victimMost = 9

// TestSoakVictim begins a soak, or goes on with it, until it is killed.
func TestSoakVictim(t *testing.T) {
	dir := os.Getenv("SOAK_TEST_VICTIM")
	if dir == "" {
		t.Skip("it is the part of a process that is killed")
	}
	fmt.Println("on")
	s, err := specs.Load(filepath.Join(dir, "few.spec.yaml"), checks.All)
	if err != nil {
		if s, err = soakSpec(dir, few); err != nil {
			t.Fatal(err)
		}
	}
	b, err := soakBench(parting)
	if err != nil {
		t.Fatal(err)
	}
	p := &harness.Player{Bench: b, Out: dir, Version: "test"}
	k, err := harness.ResumeSoak(p, s, "")
	if os.IsNotExist(err) || err != nil && strings.Contains(err.Error(), soak.ErrNone.Error()) {
		k, err = harness.BeginSoak(p, s, harness.SoakOptions{Claim: claim, Keep: soak.Lean, Most: victimMost})
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := k.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
}

// BenchmarkMemory says how much memory a repeat of a soak takes, bytes.
func BenchmarkMemory(b *testing.B) {
	t := lockstep.NewTree(lockstep.Options{})
	m := lockstep.NewMemory(lockstep.Layout{W: 64, H: 64})
	if err := m.Add(0, lockstep.Unseen, nil); err != nil {
		b.Fatal(err)
	}
	if err := t.Add(lockstep.Run{Name: soak.Name(1), Trace: m}); err != nil {
		b.Fatal(err)
	}
	var tally soak.Tally
	keeper := soak.Keeper{Keep: soak.Lean}
	before := heap()
	// Each round adds as many repeats as a soak has at most.
	rounds := 0
	for b.Loop() {
		for n := range harness.MostRepeats {
			e := soak.Entry{Repeat: rounds*harness.MostRepeats + n + 2, Outcome: soak.Clean, Compared: &soak.Compared{Frames: 36_000, Until: 35_999}}
			_, whole := keeper.After(e)
			tally.Add(e, whole)
			if err := t.Restore(e.Compared.Member(soak.Name(e.Repeat))); err != nil {
				b.Fatal(err)
			}
		}
		rounds++
	}
	b.ReportMetric(float64(heap()-before)/float64(rounds*harness.MostRepeats), "bytes/repeat")
	if t.Families() != 1 {
		b.Fatal("the tree is gone")
	}
}

// heap is how much memory is in use.
func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
