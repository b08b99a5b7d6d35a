package record_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/feeder"
	"latchproof/harness/record"
	"latchproof/specs/console"
)

var (
	specText = []byte("version: 1\nspec: first-lamp\n")
	progText = []byte("program 1\nrest 60\n")
)

func meta() record.Meta {
	return record.Meta{
		Spec:    record.SpecInfo{Name: "first-lamp", File: "first-lamp.spec.yaml"},
		Program: record.ProgramInfo{File: "first-lamp.prog", Hash: strings.Repeat("ab", 32), Reads: 60},
		Console: record.FromProfile(console.Profile{
			Name: "test", Width: 256, Height: 240, Rate: console.Rate{Num: 39375000, Den: 655171},
			Buttons: []string{"a", "b"}, Ports: 2, ReadsPerFrame: 1, BurstGap: 2 * time.Millisecond, LatchActive: "high",
		}),
		Start: "reset", Repeat: 3,
		Bench:    json.RawMessage(`{"name": "bench 1"}`),
		Versions: map[string]string{"latchproof": "test"},
		Started:  time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC),
	}
}

func latch(i int64) feeder.Latch {
	return feeder.Latch{Index: i, Micros: 1000 + i*16639, Clocks: 8, P1: uint16(i % 256)}
}

// play writes a whole run of n latches.
func play(dir string, n int64) error {
	w, err := record.Create(dir, meta(), specText, progText)
	if err != nil {
		return err
	}
	// The card's own file, which does not come through the writer.
	if err := os.WriteFile(w.Path(record.CaptureFile), make([]byte, 100_000), 0o666); err != nil {
		return err
	}
	for i := range n {
		if err := w.AppendLatch(latch(i)); err != nil {
			return err
		}
	}
	return errors.Join(
		w.SetSyncs([]feeder.Sync{{Sent: 5 * time.Microsecond, Received: 900 * time.Microsecond, Micros: 77}}),
		w.SetFrames([]record.FrameRow{
			{Index: 0, Stamp: 12 * time.Microsecond, Frame: record.NoFrame, State: record.Outside},
			{Index: 1, Stamp: 16700 * time.Microsecond, Frame: 0, State: record.Fresh},
		}),
		w.SetVerdicts(map[string]string{"verdict": "pass"}),
		w.WriteFile("templates/gate.png", func(out io.Writer) error { _, err := out.Write([]byte("png")); return err }),
		w.Seal(record.Result{Ended: time.Date(2026, 3, 1, 12, 1, 0, 0, time.UTC), Clock: json.RawMessage(`{"state":"measured"}`), Damage: []string{"the card lost 2 pictures"}}),
	)
}

// victim writes runs until it is killed; run is told on standard output.
func victim(dir string) {
	for n := 0; ; n++ {
		run := filepath.Join(dir, fmt.Sprint("run", n))
		w, err := record.Create(run, meta(), specText, progText)
		if err != nil {
			panic(err)
		}
		for i := range int64(700) {
			if err := w.AppendLatch(latch(i)); err != nil {
				panic(err)
			}
			if i%100 == 0 {
				time.Sleep(200 * time.Microsecond)
			}
		}
		if err := w.SetVerdicts("pass"); err != nil {
			panic(err)
		}
		if n%3 == 2 {
			err = w.Abort("after latch 699", "the cable was unplugged")
		} else {
			err = w.Seal(record.Result{Ended: time.Now()})
		}
		if err != nil {
			panic(err)
		}
		fmt.Println(n)
	}
}

var _ = Describe("a run folder", func() {
	var dir string
	BeforeEach(func() { dir = filepath.Join(GinkgoT().TempDir(), "out", "run") })

	It("gives back what was written", func() {
		Expect(play(dir, 500)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Meta.State).To(Equal(record.Sealed))
		Expect(r.Meta.Console.Profile().Rate).To(Equal(console.Rate{Num: 39375000, Den: 655171}))
		Expect(r.Meta.Console.Profile().BurstGap).To(Equal(2 * time.Millisecond))
		Expect(r.Meta.Damage).To(Equal([]string{"the card lost 2 pictures"}))
		Expect(r.Meta.Bench).To(MatchJSON(`{"name": "bench 1"}`))
		Expect(r.Meta.Clock).To(MatchJSON(`{"state":"measured"}`))
		Expect(r.Meta.Files).To(HaveKey("templates/gate.png"))
		latches, err := r.Reads()
		Expect(err).NotTo(HaveOccurred())
		Expect(latches).To(HaveLen(500))
		Expect(latches[499]).To(Equal(latch(499)))
		frames, err := r.Frames()
		Expect(err).NotTo(HaveOccurred())
		Expect(frames).To(HaveLen(2))
		Expect(frames[0].Frame).To(Equal(record.NoFrame))
		Expect(frames[1]).To(Equal(record.FrameRow{Index: 1, Stamp: 16700 * time.Microsecond, Frame: 0, State: record.Fresh}))
		syncs, err := r.Syncs()
		Expect(err).NotTo(HaveOccurred())
		Expect(syncs).To(Equal([]feeder.Sync{{Sent: 5 * time.Microsecond, Received: 900 * time.Microsecond, Micros: 77}}))
		Expect(r.ReadFile(record.SpecFile)).To(Equal(specText))
		Expect(r.ReadFile(record.ProgramFile)).To(Equal(progText))
	})

	It("hashes files as sha256sum does", func() {
		Expect(play(dir, 10)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		for name, sum := range r.Meta.Files { // GNU coreutils, another implementation
			out, err := exec.Command("sha256sum", r.Path(name)).Output()
			if errors.Is(err, exec.ErrNotFound) {
				Skip("no sha256sum here")
			}
			Expect(err).NotTo(HaveOccurred())
			Expect(strings.Fields(string(out))[0]).To(Equal(sum.SHA256), name)
		}
	})

	It("is never written into when it is not empty", func() {
		Expect(play(dir, 10)).To(Succeed())
		before, err := os.ReadFile(filepath.Join(dir, record.RunFile))
		Expect(err).NotTo(HaveOccurred())
		_, err = record.Create(dir, meta(), specText, progText)
		Expect(err).To(MatchError(record.ErrExists))
		Expect(os.ReadFile(filepath.Join(dir, record.RunFile))).To(Equal(before))
	})

	It("may be empty before", func() {
		Expect(os.MkdirAll(dir, 0o777)).To(Succeed())
		Expect(play(dir, 10)).To(Succeed())
	})

	It("grows a column for port 2 when a latch needs it", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.AppendLatch(latch(0))).To(Succeed())
		Expect(w.AppendLatch(feeder.Latch{Index: 1, Micros: 20000, Clocks: 8, Clocks2: 9, P2: 3})).To(Succeed())
		Expect(w.AppendLatch(latch(2))).To(Succeed())
		Expect(w.Seal(record.Result{Ended: time.Now()})).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.ReadFile(record.ReadsFile)).To(BeEquivalentTo("index,time_us,clocks,p1,p2,clocks2\n0,1000,8,0x00,0x00,0\n1,20000,8,0x00,0x03,9\n2,34278,8,0x02,0x00,0\n"))
	})

	It("writes the row of a gap where log records were lost, and keeps the rest", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.AppendLatch(latch(0))).To(Succeed())
		Expect(w.AppendLatch(latch(3))).To(Succeed())
		wide := latch(6)
		wide.Clocks2 = 8
		Expect(w.AppendLatch(wide)).To(Succeed())
		Expect(w.AppendLatch(latch(7))).To(Succeed())
		Expect(w.Abort("at the end", "2 gaps")).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).To(MatchError(record.ErrPartial))
		Expect(r.ReadFile(record.ReadsFile)).To(BeEquivalentTo("index,time_us,clocks,p1,p2,clocks2\n" +
			"0,1000,8,0x00,0x00,0\n1,lost,,,,\n3,50917,8,0x03,0x00,0\n4,lost,,,,\n6,100834,8,0x06,0x00,8\n7,117473,8,0x07,0x00,0\n"))
		Expect(r.Reads()).To(Equal([]feeder.Latch{latch(0), latch(3), wide, latch(7)}))

		By("leaving out a gap after which the writer was killed")
		Expect(os.WriteFile(r.Path(record.ReadsFile), []byte("index,time_us,clocks,p1,p2\n0,1000,8,0x00,0x00\n1,lost,,,\n3,5"), 0o666)).To(Succeed())
		Expect(r.Reads()).To(Equal([]feeder.Latch{latch(0)}))
	})

	It("keeps what happened apart from what is missing", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		w.Note("underrun at latch pulse 3")
		w.SetUnderruns([]int64{3})
		Expect(w.Seal(record.Result{Ended: time.Now()})).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Meta.Damage).To(BeEmpty())
		Expect(r.Meta.Underruns).To(Equal([]int64{3}))
		Expect(r.Meta.Notes).To(Equal([]string{"underrun at latch pulse 3"}))
	})

	It("reads the format before", func() {
		Expect(play(dir, 1)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		r.Meta.Format = 1
		src, err := record.FormatMeta(r.Meta)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.WriteFile(filepath.Join(dir, record.RunFile), src, 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(Succeed())
	})

	It("refuses latch indexes that do not rise, names outside the folder, and writing after the end", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.AppendLatch(latch(4))).To(Succeed())
		Expect(w.AppendLatch(latch(4))).To(MatchError(ContainSubstring("latch 4 follows 4")))
		for _, name := range []string{"../x", "/x", "", ".", record.RunFile, record.ReadsFile, "a/../../x"} {
			Expect(w.WriteFile(name, func(io.Writer) error { return nil })).NotTo(Succeed(), name)
		}
		Expect(w.Seal(record.Result{Ended: time.Now()})).To(Succeed())
		Expect(w.AppendLatch(latch(5))).To(MatchError(record.ErrClosed))
		Expect(w.Seal(record.Result{})).To(MatchError(record.ErrClosed))
		Expect(w.Abort("x", "y")).To(Succeed())
		Expect(record.Verify(dir)).To(Succeed())
	})

	It("says where an aborted run stopped", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		for i := range int64(30) {
			Expect(w.AppendLatch(latch(i))).To(Succeed())
		}
		Expect(w.Abort("at read 29", "the board fell silent")).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).To(MatchError(record.ErrPartial))
		Expect(err).To(MatchError(dir + ": run is partial: stopped at read 29: the board fell silent"))
		var p *record.PartialError
		Expect(errors.As(err, &p)).To(BeTrue())
		Expect(p.LastLatch).To(BeEquivalentTo(29))
		Expect(r.Reads()).To(HaveLen(30))
	})

	It("says where a run stopped whose writer died, and leaves out a row cut off", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		for i := range int64(30) {
			Expect(w.AppendLatch(latch(i))).To(Succeed())
		}
		Expect(w.Flush()).To(Succeed())
		path := filepath.Join(dir, record.ReadsFile)
		src, err := os.ReadFile(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.WriteFile(path, src[:len(src)-3], 0o666)).To(Succeed())
		_, err = record.Open(dir)
		var p *record.PartialError
		Expect(errors.As(err, &p)).To(BeTrue())
		Expect(p.LastLatch).To(BeEquivalentTo(28))
		Expect(p.Where).To(Equal("after latch 28 at 466892 us"))
	})

	It("flushes rows by itself within a while", func() {
		w, err := record.Create(dir, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		Expect(w.AppendLatch(latch(0))).To(Succeed())
		Eventually(func() int64 {
			_, err := record.Open(dir)
			var p *record.PartialError
			errors.As(err, &p)
			return p.LastLatch
		}, 20*time.Second, 20*time.Millisecond).Should(BeEquivalentTo(0))
		Expect(w.Abort("x", "y")).To(Succeed())
	})

	It("finds a changed byte in any file, a missing file and an added one", func() {
		Expect(play(dir, 100)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		rnd := rand.New(rand.NewPCG(1, 1))
		files := []string{record.RunFile}
		for name := range r.Meta.Files {
			files = append(files, name)
		}
		Expect(files).To(HaveLen(9))
		for _, name := range files {
			path := filepath.Join(dir, name)
			src, err := os.ReadFile(path)
			Expect(err).NotTo(HaveOccurred())
			places := []int{0, len(src) - 1}
			for range 40 {
				places = append(places, rnd.IntN(len(src)))
			}
			for _, at := range places {
				bad := append([]byte(nil), src...)
				bad[at] ^= 1 << rnd.IntN(8)
				Expect(os.WriteFile(path, bad, 0o666)).To(Succeed())
				err := record.Verify(dir)
				Expect(err).To(HaveOccurred(), "%s byte %d", name, at)
				if name != record.RunFile {
					Expect(err).To(MatchError(record.ErrDamaged))
					Expect(err).To(MatchError(dir + ": run is damaged: " + name + ": hash differs"))
					_, err = r.ReadFile(name)
					Expect(err).To(MatchError(record.ErrDamaged))
				}
			}
			Expect(os.WriteFile(path, src[:len(src)-1], 0o666)).To(Succeed())
			Expect(record.Verify(dir)).NotTo(Succeed())
			Expect(os.Remove(path)).To(Succeed())
			Expect(record.Verify(dir)).NotTo(Succeed())
			Expect(os.WriteFile(path, src, 0o666)).To(Succeed())
			Expect(record.Verify(dir)).To(Succeed())
		}
		Expect(os.WriteFile(filepath.Join(dir, record.TraceFile), []byte("late"), 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(MatchError(ContainSubstring("trace.lpt: was not sealed with the run")))
		_, err = record.OpenFiles(dir, record.ReadsFile)
		Expect(err).NotTo(HaveOccurred())
	})

	It("tells what is no run", func() {
		Expect(record.Verify(filepath.Join(dir, "nowhere"))).To(MatchError(record.ErrNotRun))
		Expect(os.MkdirAll(dir, 0o777)).To(Succeed())
		Expect(record.Verify(dir)).To(MatchError(record.ErrPartial))
		Expect(os.WriteFile(filepath.Join(dir, "x"), nil, 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(MatchError(record.ErrNotRun))
		Expect(os.WriteFile(filepath.Join(dir, record.RunFile), []byte("{\n  \"format\": 1,\n  \"spec\": 7\n}"), 0o666)).To(Succeed())
		err := record.Verify(dir)
		Expect(err).To(MatchError(record.ErrDamaged))
		Expect(err).To(MatchError(ContainSubstring(record.RunFile + ":3:")))
	})

	It("refuses a later format", func() {
		Expect(play(dir, 1)).To(Succeed())
		r, err := record.Open(dir)
		Expect(err).NotTo(HaveOccurred())
		r.Meta.Format = 3
		src, err := record.FormatMeta(r.Meta)
		Expect(err).NotTo(HaveOccurred())
		Expect(os.WriteFile(filepath.Join(dir, record.RunFile), src, 0o666)).To(Succeed())
		Expect(record.Verify(dir)).To(MatchError(record.ErrVersion))
	})

	It("cannot be made where nothing can be written", func() {
		file := filepath.Join(GinkgoT().TempDir(), "file")
		Expect(os.WriteFile(file, nil, 0o666)).To(Succeed())
		_, err := record.Create(filepath.Join(file, "run"), meta(), specText, progText)
		Expect(err).To(MatchError(syscall.ENOTDIR))
		Expect(err).To(MatchError(HavePrefix("begin run " + file)))
	})

	It("keeps what it has when the disk is full", func() {
		mount := GinkgoT().TempDir()
		if err := syscall.Mount("tmpfs", mount, "tmpfs", 0, "size=128k"); err != nil {
			Skip("mounting is not permitted here: " + err.Error())
		}
		defer syscall.Unmount(mount, 0)
		run := filepath.Join(mount, "run")
		w, err := record.Create(run, meta(), specText, progText)
		Expect(err).NotTo(HaveOccurred())
		n := int64(0)
		for ; n < 100_000 && err == nil; n++ {
			err = w.AppendLatch(latch(n))
		}
		Expect(err).To(MatchError(record.ErrFull))
		Expect(w.AppendLatch(latch(n))).To(MatchError(record.ErrFull))
		Expect(w.Seal(record.Result{Ended: time.Now()})).To(MatchError(record.ErrFull))
		Expect(w.Abort("at the full disk", "disk is full")).NotTo(Succeed())
		_, err = record.Open(run)
		Expect(err).To(MatchError(record.ErrPartial))
		var p *record.PartialError
		Expect(errors.As(err, &p)).To(BeTrue())
		Expect(p.LastLatch).To(BeNumerically(">", 1000))
		Expect(p.LastLatch).To(BeNumerically("<", n))
		_, err = record.Create(filepath.Join(mount, "next"), meta(), specText, progText)
		Expect(err).To(MatchError(record.ErrFull))
	})

	It("is sealed or partial after a kill at any moment", func() {
		sealed, partial := 0, 0
		rnd := rand.New(rand.NewPCG(uint64(GinkgoRandomSeed()), 1))
		for range 20 {
			base := GinkgoT().TempDir()
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), "RECORD_TEST_VICTIM="+base)
			var said strings.Builder
			cmd.Stdout, cmd.Stderr = &said, os.Stderr
			Expect(cmd.Start()).To(Succeed())
			Eventually(func() error { _, err := os.Stat(filepath.Join(base, "run0")); return err }, 30*time.Second, time.Millisecond).Should(Succeed())
			time.Sleep(time.Duration(rnd.IntN(60_000)) * time.Microsecond)
			Expect(cmd.Process.Kill()).To(Succeed())
			Expect(cmd.Wait()).NotTo(Succeed())
			done := strings.Count(said.String(), "\n")
			runs, err := os.ReadDir(base)
			Expect(err).NotTo(HaveOccurred())
			for _, e := range runs {
				var n int
				fmt.Sscanf(e.Name(), "run%d", &n)
				r, err := record.Open(filepath.Join(base, e.Name()))
				var p *record.PartialError
				switch {
				case err == nil:
					sealed++
					Expect(n%3).NotTo(Equal(2), "an aborted run was taken for whole")
					Expect(r.Reads()).To(HaveLen(700))
				case errors.As(err, &p):
					partial++
					Expect(p.Where).NotTo(BeEmpty())
					if n < done { // its end was told before the kill
						Expect(n%3).To(Equal(2), "a sealed run was lost")
						Expect(p.Where).To(Equal("after latch 699"))
					}
					if p.LastLatch >= 0 {
						Expect(p.LastMicros).To(Equal(latch(p.LastLatch).Micros))
					}
				default:
					Fail(fmt.Sprintf("%s: %v", e.Name(), err))
				}
			}
		}
		GinkgoWriter.Printf("%d sealed, %d partial\n", sealed, partial)
		Expect(partial).To(BeNumerically(">", 0))
	})
})
