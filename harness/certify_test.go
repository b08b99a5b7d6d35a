package harness_test

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/checks"
	claims "latchproof/harness/claim"
	"latchproof/harness/decision"
	"latchproof/specs/console"
)

// walking is a program that rests for so long and then walks.
func walking(rest int) string { return fmt.Sprintf("program 1\nrest %d\nhold right for 35\n", rest) }

// leaving is a spec whose time is from frame 2 to the frame in which the lamplighter
// leaves the gate.
const leaving = `version: 1
spec: leaving
program: house.prog
console: ntsc-8bit
start: power
tail: 10
checkpoints:
  - {name: waits at the gate, at: 2, shows: {template: lamplighter-idle, near: [40, 176], within: 1}}
  - {name: has left, at: 30, hides: {template: lamplighter-idle, near: [40, 176], within: 1}}
timing:
  from: {at: 2}
  to: {gone: {template: lamplighter-idle, near: [40, 176], within: 1}}
`

// left is how many frames the claim's program takes, as the game itself says.
const left, claimRest = 4, 5

// scene is a house and a claim on the disk.
type submission struct {
	dir                   string
	spec, house, claim    string
	rest                  int // of the claim's program
	repeats, lock, frames int
	benches               int
}

func submitted() *submission {
	return &submission{dir: GinkgoT().TempDir(), spec: leaving, rest: claimRest, repeats: 3, lock: 3, benches: 1, frames: left,
		house: "", claim: "category: leaving"}
}

func (s *submission) open() (*claims.Submission, error) {
	GinkgoHelper()
	house, sent := filepath.Join(s.dir, "house"), filepath.Join(s.dir, "sent")
	Expect(demo.Write(house)).To(Succeed())
	write := func(dir, name, text string) {
		Expect(os.MkdirAll(dir, 0o777)).To(Succeed())
		Expect(os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666)).To(Succeed())
	}
	write(house, "leaving.spec.yaml", s.spec)
	write(house, "house.prog", walking(20))
	write(house, "house.yaml", fmt.Sprintf("version: 1\nhouse: Linden Street\nrepeats: %d\nlockstep: %d\nbenches: %d\n%scategories:\n  leaving: {spec: leaving.spec.yaml}\n",
		s.repeats, s.lock, s.benches, s.house))
	write(sent, "quick.prog", walking(s.rest))
	write(sent, "quick.claim.yaml", fmt.Sprintf("version: 1\nclaim: leaves the gate\nby: Ada\nprogram: quick.prog\n%s\nframes: %d\n", s.claim, s.frames))
	h, err := claims.OpenHouse(house, checks.All)
	Expect(err).NotTo(HaveOccurred())
	return claims.Open(filepath.Join(sent, "quick.claim.yaml"), h, checks.All)
}

// quick is a cheap bench whose card sees every frame: it is a quarter faster than the
// console, so that in each frame a picture lies at least 1.6 ms from either end.
func quick(seed uint64) sim.Config {
	cfg := plain(seed)
	cfg.Card.Rate = console.Rate{Num: 75, Den: 1}
	return cfg
}

func benchOf(cfg sim.Config, name string) harness.Bench {
	GinkgoHelper()
	b, err := sim.New(cfg, sim.Options{Pipe: true})
	Expect(err).NotTo(HaveOccurred())
	return renamed{b, name}
}

type renamed struct {
	harness.Bench
	name string
}

func (r renamed) Describe() harness.BenchInfo {
	info := r.Bench.Describe()
	info.Name = r.name
	return info
}

// certified plays a claim and decides.
func certifying(ctx context.Context, s *submission, benches ...harness.Bench) (*harness.Certification, decision.Decision) {
	GinkgoHelper()
	c := readied(s, benches...)
	Expect(c.Play(ctx, time.Minute)).To(Succeed())
	d := c.Decide()
	for _, r := range d.Reasons {
		GinkgoWriter.Printf("%+v\n", r)
	}
	GinkgoWriter.Printf("%+v\n%v\n", d.Measured, d.Notes)
	return c, d
}

func readied(s *submission, benches ...harness.Bench) *harness.Certification {
	GinkgoHelper()
	sub, err := s.open()
	Expect(err).NotTo(HaveOccurred())
	c, err := harness.NewCertification(sub, benches, s.out(), harness.Player{Version: "test"})
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(c.Release)
	return c
}

func (s *submission) out() string { return filepath.Join(s.dir, "out") }

func reasons(d decision.Decision) string {
	var out []string
	for _, r := range d.Reasons {
		out = append(out, harness.ReasonText(r))
	}
	return strings.Join(out, "\n")
}

var houseKey = ed25519.NewKeyFromSeed([]byte("a key for tests, of 32 bytes....")[:32])

var _ = Describe("a claim on a simulated bench", func() {
	BeforeEach(func() {
		if testing.Short() {
			Skip("playing takes long under the race detector")
		}
	})

	It("is certified with the game's own time, and packed with its evidence", func(ctx context.Context) {
		s := submitted()
		c, d := certifying(ctx, s, benchOf(quick(1), "a"))
		Expect(d.Code).To(Equal(0), reasons(d))
		Expect(d.Measured.Frames).To(BeEquivalentTo(left))
		Expect(c.Early).To(BeEmpty())

		e, err := c.Collect(ctx, d)
		Expect(err).NotTo(HaveOccurred())
		at := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
		made, err := c.Certify(d, e, harness.CertifyOptions{Key: houseKey, Now: at})
		Expect(err).NotTo(HaveOccurred())
		cert, err := attest.Open(made.Envelope, houseKey.Public().(ed25519.PublicKey))
		Expect(err).NotTo(HaveOccurred())
		Expect(cert.Predicate.Measured.Frames).To(BeEquivalentTo(left))
		Expect(cert.Predicate.Standing).To(Equal("none"))
		Expect(cert.Predicate.Benches).To(Equal([]attest.PredicateBench{{Name: "a", Runs: []string{"runs/a/run-001", "runs/a/run-002", "runs/a/run-003"}, Lockstep: 3}}))

		f, err := os.Open(made.Path)
		Expect(err).NotTo(HaveOccurred())
		defer f.Close()
		info, err := f.Stat()
		Expect(err).NotTo(HaveOccurred())
		b, err := bundle.Read(f, info.Size(), bundle.DefaultLimits)
		Expect(err).NotTo(HaveOccurred())
		videos := 0
		named := []string{harness.CertificateFile}
		for _, x := range cert.Subjects {
			if strings.HasSuffix(x.Name, "/capture.mkv") {
				videos++
				continue
			}
			named = append(named, x.Name)
			Expect(b.Sum(x.Name)).To(Equal(x.SHA256), x.Name)
		}
		Expect(videos).To(Equal(3))
		slices.Sort(named)
		Expect(b.Names()).To(Equal(named))
		for _, want := range []string{
			"claim/quick.claim.yaml", "claim/quick.prog", "house/house.yaml", "spec/leaving.spec.yaml", "spec/house.prog",
			"spec/lamplighter-idle.png", "benches/a.json", "runs/a/run-003/reads.csv", "runs/a/run-001/trace.lpt", "runs/a/run-002/verdicts.json", "decision.json",
		} {
			Expect(b.Names()).To(ContainElement(want))
		}
		Expect(b.Names()).To(ContainElement(HavePrefix("pictures/a/run-001/")))
		// In the bundle's spec stands the claim's program, not the house's.
		Expect(b.ReadFile("spec/house.prog", 1000)).To(BeEquivalentTo(walking(claimRest)))
		Expect(b.ReadFile("runs/a/run-001/program.prog", 1000)).To(BeEquivalentTo(walking(claimRest)))

		By("packing the same evidence to the same bytes")
		first, err := os.ReadFile(made.Path)
		Expect(err).NotTo(HaveOccurred())
		_, err = c.Certify(d, e, harness.CertifyOptions{Key: houseKey, Now: at})
		Expect(err).To(MatchError(os.ErrExist), "a bundle is never replaced")
		Expect(os.ReadFile(made.Path)).To(Equal(first))
		Expect(os.Remove(made.Path)).To(Succeed())
		e, err = c.Collect(ctx, d)
		Expect(err).NotTo(HaveOccurred())
		_, err = c.Certify(d, e, harness.CertifyOptions{Key: houseKey, Now: at})
		Expect(err).NotTo(HaveOccurred())
		Expect(os.ReadFile(made.Path)).To(Equal(first))
		Expect(filepath.Glob(filepath.Join(s.out(), "*.part"))).To(BeEmpty())

		By("packing nothing of a run that was changed since")
		Expect(os.WriteFile(filepath.Join(s.out(), "runs/a/run-002/reads.csv"), []byte("index,time_us,clocks,p1,p2\n"), 0o666)).To(Succeed())
		_, err = c.Collect(ctx, d)
		Expect(err).To(MatchError(harness.ErrDamaged))
	})

	It("is certified on two benches that differ in card, latency and colour", func(ctx context.Context) {
		s := submitted()
		s.benches, s.repeats, s.lock = 2, 2, 2
		b := quick(2)
		b.Card.Latency += 5500
		b.Card.Noise = 1
		b.Troubles = append(b.Troubles, sim.Trouble{Name: "gain", Strength: 6})
		c, d := certifying(ctx, s, benchOf(quick(1), "a"), benchOf(b, "B"))
		Expect(d.Code).To(Equal(0), reasons(d))
		Expect(d.Measured.Frames).To(BeEquivalentTo(left))
		Expect(d.Benches).To(HaveLen(2))
		Expect(d.Benches[1].Lockstep).To(Equal(2))
		page, err := c.Report("certify", d)
		Expect(err).NotTo(HaveOccurred())
		Expect(page.Specs[0].Repeats).To(HaveLen(4))
		Expect(page.Specs[0].Verdict).To(Equal(harness.Held))
	})

	It("does not begin on fewer benches than the house asks for, or on two of one name", func() {
		s := submitted()
		s.benches = 2
		sub, err := s.open()
		Expect(err).NotTo(HaveOccurred())
		_, err = harness.NewCertification(sub, []harness.Bench{benchOf(quick(1), "a")}, s.out(), harness.Player{})
		Expect(err).To(MatchError(harness.ErrBenches))
		_, err = harness.NewCertification(sub, []harness.Bench{benchOf(quick(1), "a b"), benchOf(quick(2), "A-b")}, s.out(), harness.Player{})
		Expect(err).To(MatchError(harness.ErrBenches))
		Expect(s.out()).NotTo(BeADirectory())
	})

	It("takes no own spec where the house does not", func() {
		s := submitted()
		s.claim = "spec: mine.spec.yaml"
		s.house = "own_specs: false\n"
		_, err := s.open()
		Expect(err).To(MatchError(ContainSubstring("takes no specs of others")))
	})

	It("is certified with fewer frames than claimed", func(ctx context.Context) {
		s := submitted()
		s.frames = left + 6
		_, d := certifying(ctx, s, benchOf(quick(3), "a"))
		Expect(d.Code).To(Equal(0), reasons(d))
		Expect(d.Measured.Frames).To(BeEquivalentTo(left))
		Expect(d.Notes).To(ContainElement("it takes 4 frames, 6 fewer than claimed"))
	})

	DescribeTable("is refused", func(ctx context.Context, code int, reason string, early bool, change func(*submission, *sim.Config)) {
		s := submitted()
		cfg := quick(4)
		change(s, &cfg)
		c, d := certifying(ctx, s, benchOf(cfg, "a"))
		Expect(d.Outcome).To(Equal(decision.Refused))
		Expect(reasons(d)).To(ContainSubstring(reason))
		Expect(d.Code).To(Equal(code), reasons(d))
		Expect(c.Early != "").To(Equal(early), c.Early)
		_, err := c.Collect(ctx, d)
		Expect(err).To(HaveOccurred())
		page, err := c.Report("certify", d)
		Expect(err).NotTo(HaveOccurred())
		Expect(page.Specs[0].Verdict).To(Equal(map[int]string{1: harness.NotHeld, 3: harness.CannotTell}[code]))
		Expect(page.Specs[0].Warnings).To(ContainElement(ContainSubstring(reason)))
	},
		Entry("when it is slower than claimed, after the first repeat", 1, "it takes 4 frames, and 3 frames were claimed", true, func(s *submission, _ *sim.Config) {
			s.frames = left - 1
		}),
		Entry("when a checkpoint fails, after that repeat", 1, `checkpoint "waits at the gate" fails`, true, func(s *submission, _ *sim.Config) { s.rest, s.frames = 1, 100 }),
		Entry("when the picture of a checkpoint is unseen in one repeat", 3, `runs/a/run-002: checkpoint "waits at the gate" is unseen`, false, func(_ *submission, c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "drops", Repeats: []int{2}, At: []int64{2}, Strength: 3})
		}),
		Entry("when the board misses a read in one repeat", 1, "runs of the bench a are in lockstep with the first run", true, func(_ *submission, c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "missed-read", Repeats: []int{2}, At: []int64{claimRest}})
		}),
		Entry("when the card was never calibrated", 3, "the frame clock is", false, func(_ *submission, c *sim.Config) { c.Card.LatencyHalf = 0 }),
		Entry("when the cable is pulled in one repeat", 3, "runs/a/run-003: the run is partial", false, func(_ *submission, c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "unplug", Repeats: []int{3}, At: []int64{20}})
		}),
		Entry("when a log record is lost in one repeat", 3, "runs/a/run-003", false, func(_ *submission, c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "lost-log", Repeats: []int{3}, At: []int64{20}})
		}),
		Entry("when the board had no data for a read, so that the run parts", 1, "no program data for 1 latch pulses", false, func(_ *submission, c *sim.Config) {
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "underrun", Repeats: []int{3}, At: []int64{2}})
		}),
		Entry("when the card has no signal", 3, "is unseen", false, func(_ *submission, c *sim.Config) {
			c.Card.NoSignal = sim.NoSignalNone
			c.Troubles = append(c.Troubles, sim.Trouble{Name: "disconnect", Repeats: []int{2}, At: []int64{1}})
		}),
	)

	It("makes no certificate when it is interrupted", func(ctx context.Context) {
		s := submitted()
		c := readied(s, benchOf(quick(5), "a"))
		ctx, cancel := context.WithCancelCause(ctx)
		cancel(errors.New("told to stop"))
		Expect(c.Play(ctx, time.Minute)).To(MatchError(harness.ErrStopped))
		Expect(c.Decide().Outcome).To(Equal(decision.Refused))
		Expect(c.BundlePath()).NotTo(BeAnExistingFile())
	})
})
