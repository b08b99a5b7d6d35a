package verify_test

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"sync"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/verify"
)

// ways are how a bundle is changed at random; each gives other bytes or nil.
var ways = []struct {
	name   string
	change func(r *rand.Rand, b []byte) []byte
}{
	{"a bit", func(r *rand.Rand, b []byte) []byte { b[r.IntN(len(b))] ^= 1 << r.IntN(8); return b }},
	{"a byte", func(r *rand.Rand, b []byte) []byte { b[r.IntN(len(b))] += byte(1 + r.IntN(255)); return b }},
	{"a byte of a small file or a header", func(r *rand.Rand, b []byte) []byte {
		// Traces and pictures are most of a bundle; other blocks are hit here.
		n := len(b) / 512
		for range 200 {
			at := 512 * r.IntN(n)
			if block := b[at : at+512]; bytes.Contains(block, []byte("ustar")) || bytes.Count(block, []byte{0}) > 300 || printable(block) {
				block[r.IntN(512)] ^= byte(1 + r.IntN(255))
				return b
			}
		}
		return nil
	}},
	{"a byte of the certificate", func(r *rand.Rand, b []byte) []byte {
		b[512+r.IntN(min(16_000, len(b)-512))] ^= byte(1 + r.IntN(255))
		return b
	}},
	{"a byte more", func(r *rand.Rand, b []byte) []byte {
		at := r.IntN(len(b) + 1)
		return append(append(bytes.Clone(b[:at]), byte(r.IntN(256))), b[at:]...)
	}},
	{"a byte less", func(r *rand.Rand, b []byte) []byte {
		at := r.IntN(len(b))
		return append(b[:at], b[at+1:]...)
	}},
	{"two blocks exchanged", func(r *rand.Rand, b []byte) []byte {
		n := len(b) / 512
		x, y := b[512*r.IntN(n):][:512], b[512*r.IntN(n):][:512]
		if bytes.Equal(x, y) {
			return nil
		}
		keep := bytes.Clone(x)
		copy(x, y)
		copy(y, keep)
		return b
	}},
	{"cut off", func(r *rand.Rand, b []byte) []byte { return b[:r.IntN(len(b))] }},
	{"longer", func(r *rand.Rand, b []byte) []byte { return append(b, make([]byte, 1+r.IntN(2000))...) }},
	{"a stretch of zeros", func(r *rand.Rand, b []byte) []byte {
		at := r.IntN(len(b))
		part := b[at:min(len(b), at+1+r.IntN(600))]
		if len(bytes.Trim(part, "\x00")) == 0 {
			return nil
		}
		clear(part)
		return b
	}},
}

func printable(block []byte) bool {
	for _, c := range block {
		if c != 0 && c != '\n' && (c < 32 || c > 126) {
			return false
		}
	}
	return true
}

// More changes, or others: VERIFY_CHANGES=10000 VERIFY_SEED=7 go test ./harness/verify
func number(name string, usual int) int {
	GinkgoHelper()
	text := os.Getenv(name)
	if text == "" {
		return usual
	}
	n, err := strconv.Atoi(text)
	Expect(err).NotTo(HaveOccurred())
	return n
}

var _ = Describe("a bundle changed at random", func() {
	It("is never accepted, and what broke is said", func(ctx SpecContext) {
		m := played()
		Expect(m.err).NotTo(HaveOccurred())
		whole, err := os.ReadFile(m.path)
		Expect(err).NotTo(HaveOccurred())
		changes, seed := number("VERIFY_CHANGES", 300), number("VERIFY_SEED", 3)
		dir := GinkgoT().TempDir()

		// The way that each change takes must be able to fail: unchanged it holds.
		r, err := verify.Verify(ctx, copied(dir, "unchanged", whole), verify.Options{Key: makers, NoVideos: true})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Holds).To(BeTrue(), "%+v", r.Broken())

		var mu sync.Mutex
		broke, wrong := map[string]int{}, []string(nil)
		each := make(chan int)
		var workers sync.WaitGroup
		for w := range 4 {
			workers.Go(func() {
				for n := range each {
					how, why := one(ctx, dir, fmt.Sprint("worker", w), whole, uint64(seed), n)
					mu.Lock()
					if broke[how]++; why != "" {
						wrong = append(wrong, fmt.Sprintf("change %d (%s): %s", n, how, why))
					}
					mu.Unlock()
				}
			})
		}
		for n := range changes {
			each <- n
		}
		close(each)
		workers.Wait()
		var told []string
		for how, n := range broke {
			told = append(told, fmt.Sprintf("%6d  %s", n, how))
		}
		sort.Strings(told)
		GinkgoWriter.Printf("%d changes of %d bytes\n", changes, len(whole))
		for _, line := range told {
			GinkgoWriter.Println(line)
		}
		Expect(wrong).To(BeEmpty())
	})
})

func copied(dir, name string, b []byte) string {
	path := filepath.Join(dir, name+".bundle")
	if err := os.WriteFile(path, b, 0o666); err != nil {
		panic(err)
	}
	return path
}

// one makes a change and says how it was done and found, and what is wrong with that.
func one(ctx context.Context, dir, name string, whole []byte, seed uint64, n int) (how, wrong string) {
	defer func() {
		if p := recover(); p != nil {
			wrong = fmt.Sprint("panic: ", p)
		}
	}()
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	var b []byte
	for b == nil {
		way := ways[(n+r.IntN(2)*r.IntN(len(ways)))%len(ways)]
		how, b = way.name, way.change(r, bytes.Clone(whole))
		if b != nil && bytes.Equal(b, whole) {
			b = nil
		}
	}
	got, err := verify.Verify(ctx, copied(dir, name, b), verify.Options{Key: makers, NoVideos: true})
	if err != nil {
		return how + ": error", err.Error()
	}
	broken := got.Broken()
	switch {
	case got.Holds:
		return how, "accepted"
	case got.Code == 0:
		return how, "exit status 0"
	case len(broken) == 0 || broken[0].Why == "":
		return how, "nobody says what broke"
	}
	return how + ": " + broken[0].What, ""
}
