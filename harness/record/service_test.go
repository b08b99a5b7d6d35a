package record_test

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/harness/record"
)

var _ = Describe("service.csv", func() {
	rows := []feeder.Service{{Index: 0, Latency: 3062}, {Index: 1, Latency: 20 * time.Microsecond, Late: true}, {Index: 9, Latency: feeder.MaxServiceLatency}}
	const text = "index,latency_ns,late\n0,3062,0\n1,20000,1\n9,2047937,0\n"

	It("is sealed with the run and read from it", func() {
		dir := filepath.Join(GinkgoT().TempDir(), "run")
		w, err := record.Create(dir, meta(), nil, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.SetService(rows)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).To(MatchError(record.ErrPartial))
		Expect(r.Service()).To(Equal(rows))
		Expect(w.Seal(record.Result{Ended: time.Unix(2, 0).UTC()})).To(Succeed())
		Expect(os.ReadFile(filepath.Join(dir, record.ServiceFile))).To(BeEquivalentTo(text))
		r, err = record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Service()).To(Equal(rows))
		Expect(os.WriteFile(filepath.Join(dir, record.ServiceFile), []byte(text+"10,1,1\n"), 0o666)).To(Succeed())
		_, err = r.Service()
		Expect(err).To(MatchError(record.ErrDamaged))
		Expect(record.Verify(dir)).To(MatchError(ContainSubstring("service.csv")))
	})

	It("is not there for a board that tells nothing, and must not come later", func() {
		dir := filepath.Join(GinkgoT().TempDir(), "run")
		w, err := record.Create(dir, meta(), nil, nil)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.SetService(nil)).To(Succeed())
		Expect(w.Seal(record.Result{Ended: time.Unix(2, 0).UTC()})).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Service()).To(BeNil())
		Expect(filepath.Join(dir, record.ServiceFile)).NotTo(BeAnExistingFile())
		Expect(os.WriteFile(filepath.Join(dir, record.ServiceFile), []byte(text), 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(MatchError(ContainSubstring("service.csv: was not sealed with the run")))
	})

	It("cut off in the middle of a row keeps the rows before", func() {
		dir := filepath.Join(GinkgoT().TempDir(), "run")
		_, err := record.Create(dir, meta(), nil, nil)
		Expect(err).NotTo(HaveOccurred())
		for n, want := range map[int][]feeder.Service{0: nil, 9: nil, 22: nil, 31: rows[:1], 40: rows[:1], len(text): rows} {
			Expect(os.WriteFile(filepath.Join(dir, record.ServiceFile), []byte(text[:n]), 0o666)).To(Succeed())
			r, err := record.Open(dir)
			Expect(err).To(MatchError(record.ErrPartial))
			Expect(r.Service()).To(Equal(want), "%d bytes", n)
		}
	})

	It("says every problem with its place", func() {
		_, err := record.ParseService("service.csv", []byte("index,latency_ns,late\n3,1,0\n3,2047938,2\n3,0,1\n"))
		Expect(err).To(MatchError("service.csv:3:3: 2047938 is out of range 0..2047937\n" +
			"service.csv:3:11: 2 is out of range 0..1\n" +
			"service.csv:4:1: index 3 follows 3: out of order"))
	})
})

func FuzzService(f *testing.F) {
	f.Add([]byte("index,latency_ns,late\n0,3062,0\n7,2047937,1\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		got, err := record.ParseService("f", src)
		if err != nil {
			return
		}
		again, err := record.ParseService("f", record.FormatService(got))
		if err != nil || !reflect.DeepEqual(got, again) {
			t.Fatalf("%v is read again as %v, %v", got, again, err)
		}
	})
}
