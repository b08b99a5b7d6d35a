package verify_test

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/lamplighter"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/bundle"
	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/harness/decision"
	"latchproof/specs/console"
)

// leaving is a spec with a checkpoint of every sort. Its time is from the frame in
// which the lamplighter leaves the gate's place to a frame that is named.
const leaving = `version: 1
spec: leaving
program: house.prog
console: ntsc-8bit
start: power
tail: 10
checkpoints:
  - {name: waits at the gate, at: 2, shows: {template: lamplighter-idle, near: [40, 176], within: 1}}
  - {name: waits somewhere, at: [0, 3], shows: {template: lamplighter-idle, near: [40, 176], within: 1}}
  - {name: does not fall at once, at: [2, 12], every: true, hides: {template: tumble, near: [40, 176], within: 4}}
  - {name: does not fall, at: [2, 35], every: true, hides: {template: tumble, near: [40, 176], within: 4}}
  - {name: has left, at: 30, hides: {template: lamplighter-idle, near: [40, 176], within: 1}}
timing:
  from: {at: 2}
  to: {gone: {template: lamplighter-idle, near: [40, 176], within: 1}}
`

// took is how many frames that takes by the game's own rules: it begins to walk on
// the read after those of rest, and the next picture shows it.
const took = 4

func keyOf(seed string) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed([]byte(fmt.Sprintf("%-32.32s", seed)))
}

var (
	makersKey = keyOf("the maker's key of the tests")
	othersKey = keyOf("the key of somebody else")
	makers    = makersKey.Public().(ed25519.PublicKey)
)

// bench is a cheap bench whose card sees every frame: it is a quarter faster than
// the console.
func bench(seed uint64) harness.Bench {
	cfg := sim.Default()
	cfg.Seed = seed
	cfg.Console.ReadJitter, cfg.Console.Wander = 3, 0
	cfg.Console.Scene = lamplighter.StartStreet
	cfg.Card.Width, cfg.Card.Height, cfg.Card.Active = 256, 240, image.Rect(0, 0, 256, 240)
	cfg.Card.Rate = console.Rate{Num: 75, Den: 1}
	b, err := sim.New(cfg, sim.Options{Pipe: true})
	if err != nil {
		panic(err)
	}
	return named{b}
}

type named struct{ harness.Bench }

func (n named) Describe() harness.BenchInfo {
	info := n.Bench.Describe()
	info.Name = "a"
	return info
}

// made is a bundle that was made by certifying a claim, and its videos.
type made struct {
	dir  string // where it lies, with the videos
	path string
	err  error
}

// played is the bundle that most tests change: a claim in two repeats. It is played
// once.
var played = sync.OnceValue(func() (m made) {
	if m.dir, m.err = os.MkdirTemp("", "latchproof-verify-test-"); m.err == nil {
		m.path, m.err = certify(m.dir, leaving)
	}
	return m
})

// certify plays the claim and writes its bundle.
func certify(dir, spec string) (string, error) {
	house, sent, out := filepath.Join(dir, "house"), filepath.Join(dir, "sent"), filepath.Join(dir, "out")
	if err := demo.Write(house); err != nil {
		return "", err
	}
	if err := os.MkdirAll(sent, 0o777); err != nil {
		return "", err
	}
	for name, text := range map[string]string{
		"house/leaving.spec.yaml": spec, "house/house.prog": walking(20), "sent/quick.prog": walking(5),
		"house/house.yaml":      "version: 1\nhouse: Linden Street\nrepeats: 2\ncategories:\n  leaving: {spec: leaving.spec.yaml}\n",
		"sent/quick.claim.yaml": fmt.Sprintf("version: 1\nclaim: leaves the gate\nby: Ada\nprogram: quick.prog\ncategory: leaving\nframes: %d\n", took),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			return "", err
		}
	}
	h, err := claim.OpenHouse(house, checks.All)
	if err != nil {
		return "", err
	}
	s, err := claim.Open(sent, h, checks.All)
	if err != nil {
		return "", err
	}
	c, err := harness.NewCertification(s, []harness.Bench{bench(1)}, out, harness.Player{Version: "test"})
	if err != nil {
		return "", err
	}
	defer c.Release()
	ctx := context.Background()
	if err := c.Play(ctx, time.Minute); err != nil {
		return "", err
	}
	d := c.Decide()
	if d.Outcome != decision.Certified {
		return "", fmt.Errorf("refused: %+v", d.Reasons)
	}
	e, err := c.Collect(ctx, d)
	if err != nil {
		return "", err
	}
	got, err := c.Certify(d, e, harness.CertifyOptions{Key: makersKey, Now: time.Now()})
	if err != nil {
		return "", err
	}
	return got.Path, nil
}

func walking(rest int) string { return fmt.Sprintf("program 1\nrest %d\nhold right for 35\n", rest) }

// contents are all files of a bundle.
func contents(path string) (map[string][]byte, error) {
	b, err := bundle.OpenFile(path, bundle.DefaultLimits)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	out := map[string][]byte{}
	for _, name := range b.Names() {
		if out[name], err = b.ReadFile(name, 1<<30); err != nil {
			return nil, err
		}
	}
	return out, nil
}

const firstRun, secondRun = "runs/a/run-001/", "runs/a/run-002/"

func pictureOf(run string) string { return "pictures" + strings.TrimPrefix(run, "runs") }
