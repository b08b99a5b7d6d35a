package attest_test

import (
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/attest"
)

// sample is a predicate as certify makes it.
func sample() attest.Predicate {
	hash := "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	return attest.Predicate{
		Claim:    attest.PredicateClaim{Name: "reaches the <bell> tower & more: \u20ac", By: "Ada \"Q\" \\ \u00d6", Category: "first-lamp", Frames: 734, ProgramHash: hash},
		House:    attest.PredicateHouse{Name: "Linden Street", Repeats: 5, Lockstep: 5, Benches: 1, Ties: "earlier"},
		Measured: attest.PredicateTime{Frames: 734, Low: 734, High: 734, Seconds: 12.213227618},
		Standing: "record", Before: &attest.PredicateBefore{Index: 3, Frames: 740, By: "Bo", Leaf: hash},
		Benches: []attest.PredicateBench{{Name: "bench-1", Runs: []string{"runs/bench-1/run-001", "runs/bench-1/run-002"}, Lockstep: 2}},
		Frames:  9000, Unseen: 4,
		Versions:  map[string]string{"latchproof": "0.1.0", "opencv": "4.6.0"},
		Certified: "2026-11-25T22:00:00Z",
	}
}

func subjects() []attest.Subject {
	return []attest.Subject{
		{Name: "runs/bench-1/run-001/run.json", SHA256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{Name: "decision.json", SHA256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
	}
}

func newKey() *attest.Key {
	GinkgoHelper()
	file := filepath.Join(GinkgoT().TempDir(), "key")
	_, err := attest.NewKey(file, nil)
	Expect(err).NotTo(HaveOccurred())
	k, err := attest.LoadKey(file, nil)
	Expect(err).NotTo(HaveOccurred())
	return k
}
