package main

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"latchproof/fixtures/demo"
	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/recordbook"
)

// killsEnv says how many times TestCertifyKilled kills.
const killsEnv = "LATCHPROOF_CERTIFY_KILLS"

const killSpec = `version: 1
spec: leaving
program: house.prog
console: ntsc-8bit
start: power
repeats: 2
tail: 5
timing:
  from: {at: 2}
  to: {gone: {template: lamplighter-idle, near: [40, 176], within: 1}}
`

// TestCertifyKilled kills certifications with SIGKILL from the moment on when all was
// played. Whenever it was, there is a whole bundle or none, and the book holds no
// certificate of which there is no bundle.
func TestCertifyKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("playing takes long under the race detector")
	}
	kills := 4
	if n, err := strconv.Atoi(os.Getenv(killsEnv)); err == nil {
		kills = n
	}
	dir := t.TempDir()
	house := filepath.Join(dir, "house")
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	check(demo.Write(house))
	check(os.Mkdir(filepath.Join(dir, "sent"), 0o777))
	for name, text := range map[string]string{
		"house/house.yaml":        "version: 1\nhouse: Linden Street\nrepeats: 2\ncategories:\n  leaving: {spec: leaving.spec.yaml}\n",
		"house/leaving.spec.yaml": killSpec,
		"house/house.prog":        "program 1\nrest 9\nhold right for 30\n",
		"sent/one.claim.yaml":     "version: 1\nclaim: leaves the gate\nby: Ada\nprogram: p.prog\ncategory: leaving\nframes: 4\n",
		"sent/p.prog":             "program 1\nrest 5\nhold right for 35\n",
		"bench.yaml":              "bench: a\nsimulated:\n  console: {scene: street, read_jitter_us: 3, wander: 0}\n  card: {rate: 75/1, width: 256, height: 240, active: [0, 0, 256, 240]}\n",
	} {
		check(os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
	}
	key := filepath.Join(dir, "key")
	pub, err := attest.NewKey(key, nil)
	check(err)
	certify := func(i int) *exec.Cmd {
		return exec.Command("latchproof", "certify", filepath.Join(dir, "sent"), "--house", house, "--bench", filepath.Join(dir, "bench.yaml"),
			"--key", key, "--book", filepath.Join(dir, "book"), "--out", out(dir, i), "--quiet")
	}
	whole, entered := 0, 0
	for i := range kills {
		c := certify(i)
		var said bytes.Buffer
		c.Stdout, c.Stderr = &said, &said
		check(c.Start())
		ended := make(chan error, 1)
		go func() { ended <- c.Wait() }()
		// Half of them are killed while the pictures are gathered and the bundle is
		// written, the others while it gets its name and its place in the book.
		begins, within := markdownFile, 300*time.Millisecond
		if i%2 == 1 {
			begins, within = "one"+harness.BundleEnding+"*", 40*time.Millisecond
		}
		for begun := false; !begun; {
			select {
			case err := <-ended:
				t.Fatalf("it ended by itself: %v\n%s", err, said.Bytes())
			case <-time.After(time.Millisecond):
				found, err := filepath.Glob(filepath.Join(out(dir, i), begins))
				check(err)
				begun = len(found) > 0
			}
		}
		time.Sleep(rand.N(within))
		_ = c.Process.Kill()
		<-ended
		envelopes := envelopes(t, dir, i+1)
		whole = len(envelopes)
		b, err := recordbook.Open(filepath.Join(dir, "book"))
		if errors.Is(err, recordbook.ErrNone) {
			continue
		}
		check(err)
		entered = int(b.Len())
		for n := range b.Len() {
			e, err := b.Envelope(n)
			check(err)
			if !contains(envelopes, e) {
				t.Fatalf("after kill %d entry %d of the book has no bundle", i, n)
			}
			_, err = attest.Open(e, pub)
			check(err)
		}
	}
	t.Logf("%d killed: %d bundles, %d in the book", kills, whole, entered)

	if said, err := certify(kills).CombinedOutput(); err != nil {
		t.Fatalf("afterwards: %v\n%s", err, said)
	}
	b, err := recordbook.Open(filepath.Join(dir, "book"))
	check(err)
	if last, err := b.Envelope(b.Len() - 1); err != nil || !contains(envelopes(t, dir, kills+1), last) {
		t.Fatalf("the last entry is not the last certificate: %v", err)
	}
}

func out(dir string, i int) string { return filepath.Join(dir, fmt.Sprintf("out-%d", i)) }

func contains(list [][]byte, x []byte) bool {
	for _, y := range list {
		if bytes.Equal(x, y) {
			return true
		}
	}
	return false
}

// envelopes are the certificates of the bundles so far, all of which are whole.
func envelopes(t *testing.T, dir string, n int) (list [][]byte) {
	t.Helper()
	for i := range n {
		src, err := os.ReadFile(filepath.Join(out(dir, i), "one"+harness.BundleEnding))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := bundle.Read(bytes.NewReader(src), int64(len(src)), bundle.DefaultLimits)
		if err != nil {
			t.Fatalf("bundle %d is not whole: %v", i, err)
		}
		e, err := b.ReadFile(harness.CertificateFile, attest.MaxEnvelope)
		if err != nil {
			t.Fatal(err)
		}
		c, err := attest.Open(e, nil)
		if err != nil {
			t.Fatalf("bundle %d: %v", i, err)
		}
		for _, s := range c.Subjects {
			if !b.Has(s.Name) {
				continue
			}
			if sum, err := b.Sum(s.Name); err != nil || sum != s.SHA256 {
				t.Fatalf("bundle %d: %s: %v", i, s.Name, err)
			}
		}
		list = append(list, e)
	}
	return list
}
