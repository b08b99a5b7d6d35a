package verify_test

import (
	"bytes"
	"context"
	"crypto"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/judge"
	"latchproof/harness/record"
	"latchproof/harness/verify"
	"latchproof/specs/console"
	"latchproof/specs/program"
)

// forgery is a bundle that somebody with a key changes: hashes are made anew and it
// is signed again.
type forgery struct {
	files  map[string][]byte
	states attest.Predicate
	videos map[string]string // hash by name
	// asSealed are runs whose hashes are left as they are.
	asSealed []string
}

func forge() *forgery {
	GinkgoHelper()
	files, err := contents(needsRun().path)
	Expect(err).NotTo(HaveOccurred())
	return forgeryOf(files)
}

func forgeryOf(files map[string][]byte) *forgery {
	GinkgoHelper()
	f := &forgery{files: maps.Clone(files), videos: map[string]string{}}
	c, err := attest.Open(files["certificate.json"], nil)
	Expect(err).NotTo(HaveOccurred())
	f.states = c.Predicate
	for _, s := range c.Subjects {
		if _, ok := files[s.Name]; !ok {
			f.videos[s.Name] = s.SHA256
		}
	}
	delete(f.files, "certificate.json")
	return f
}

// replace changes a text that a file holds at least once.
func (f *forgery) replace(name, old, new string) {
	GinkgoHelper()
	Expect(string(f.files[name])).To(ContainSubstring(old), name)
	f.files[name] = bytes.ReplaceAll(f.files[name], []byte(old), []byte(new))
}

// line changes one line of a text, from 0.
func (f *forgery) line(name string, n int, change func(string) string) {
	GinkgoHelper()
	lines := strings.Split(string(f.files[name]), "\n")
	was := lines[n]
	lines[n] = change(was)
	Expect(lines[n]).NotTo(Equal(was))
	f.files[name] = []byte(strings.Join(lines, "\n"))
}

// verdicts changes what a run says that was judged.
func (f *forgery) verdicts(run string, change func(*judge.RunVerdict)) {
	GinkgoHelper()
	var v judge.RunVerdict
	Expect(json.Unmarshal(f.files[run+"verdicts.json"], &v)).To(Succeed())
	change(&v)
	src, err := json.Marshal(v)
	Expect(err).NotTo(HaveOccurred())
	f.files[run+"verdicts.json"] = src
}

// meta changes the record of a run.
func (f *forgery) meta(run string, change func(*record.Meta)) {
	GinkgoHelper()
	m, err := record.ParseMeta("run.json", f.files[run+"run.json"])
	if err != nil {
		Expect(json.Unmarshal(f.files[run+"run.json"], &m)).To(Succeed())
	}
	change(&m)
	src, err := record.FormatMeta(m)
	Expect(err).NotTo(HaveOccurred())
	f.files[run+"run.json"] = src
}

// seal makes the hashes in a run's record anew.
func (f *forgery) seal(run string) {
	f.meta(run, func(m *record.Meta) {
		for name, was := range m.Files {
			if src, ok := f.files[run+name]; ok {
				m.Files[name] = record.Sum{SHA256: sum(src), Bytes: int64(len(src))}
			} else if name != record.CaptureFile {
				delete(m.Files, name)
			} else {
				m.Files[name] = record.Sum{SHA256: f.videos[run+name], Bytes: was.Bytes}
			}
		}
		for name := range f.files {
			if rest, ok := strings.CutPrefix(name, run); ok && rest != record.RunFile {
				m.Files[rest] = record.Sum{SHA256: sum(f.files[name]), Bytes: int64(len(f.files[name]))}
			}
		}
		m.Spec.SHA256, m.Program.SHA256 = m.Files[record.SpecFile].SHA256, m.Files[record.ProgramFile].SHA256
	})
}

// pictures are the names of the kept pictures of a run, in order.
func (f *forgery) pictures(run string) (out []string) {
	for _, name := range slices.Sorted(maps.Keys(f.files)) {
		if strings.HasPrefix(name, pictureOf(run)) {
			out = append(out, name)
		}
	}
	return out
}

// drop takes a run out.
func (f *forgery) drop(run string) {
	for name := range f.files {
		if strings.HasPrefix(name, run) || strings.HasPrefix(name, pictureOf(run)) {
			delete(f.files, name)
		}
	}
	delete(f.videos, run+record.CaptureFile)
}

// without takes a run out of the runs that the decision names.
func (f *forgery) without(name, run string) {
	GinkgoHelper()
	var d map[string]any
	Expect(json.Unmarshal(f.files[name], &d)).To(Succeed())
	d["runs"] = slices.DeleteFunc(d["runs"].([]any), func(x any) bool { return x.(map[string]any)["name"] == strings.TrimSuffix(run, "/") })
	src, err := json.Marshal(d)
	Expect(err).NotTo(HaveOccurred())
	f.files[name] = src
}

// shift adds to a column of all rows of a CSV file from a line on.
func (f *forgery) shift(name string, from, column int, by int64) {
	GinkgoHelper()
	lines := strings.Split(strings.TrimSuffix(string(f.files[name]), "\n"), "\n")
	for i := from; i < len(lines); i++ {
		p := strings.Split(lines[i], ",")
		v, err := strconv.ParseInt(p[column], 10, 64)
		Expect(err).NotTo(HaveOccurred())
		p[column] = strconv.FormatInt(v+by, 10)
		lines[i] = strings.Join(p, ",")
	}
	f.files[name] = []byte(strings.Join(lines, "\n") + "\n")
}

// rehash sets the program hash in the runs' records to that of their program.
func (f *forgery) rehash() {
	GinkgoHelper()
	profile, _ := console.Builtin("ntsc-8bit")
	p, err := program.Parse("p", f.files[firstRun+"program.prog"], profile, program.DefaultLimits)
	Expect(err).NotTo(HaveOccurred())
	for _, run := range []string{firstRun, secondRun} {
		f.meta(run, func(m *record.Meta) { m.Program.Hash, m.Program.Reads = p.Hash(), p.Reads() })
	}
}

// later is a bench of which the latency is told 3 ms longer.
func later(bench json.RawMessage) json.RawMessage {
	GinkgoHelper()
	var b map[string]any
	Expect(json.Unmarshal(bench, &b)).To(Succeed())
	b["latency_ns"] = b["latency_ns"].(float64) + 3e6
	src, err := json.Marshal(b)
	Expect(err).NotTo(HaveOccurred())
	return src
}

func sum(src []byte) string {
	s := sha256.Sum256(src)
	return hex.EncodeToString(s[:])
}

// write packs and signs it, with the hashes in all runs made anew.
func (f *forgery) write(k crypto.Signer) string {
	GinkgoHelper()
	for name := range f.files {
		if run, ok := strings.CutSuffix(name, record.RunFile); ok && !slices.Contains(f.asSealed, run) {
			f.seal(run)
		}
	}
	return f.pack(k)
}

// pack packs and signs it as it is.
func (f *forgery) pack(k crypto.Signer) string {
	GinkgoHelper()
	var subjects []attest.Subject
	var files []bundle.File
	for _, name := range slices.Sorted(maps.Keys(f.files)) {
		subjects = append(subjects, attest.Subject{Name: name, SHA256: sum(f.files[name])})
		files = append(files, bundle.Bytes(name, f.files[name]))
	}
	for name, hash := range f.videos {
		subjects = append(subjects, attest.Subject{Name: name, SHA256: hash})
	}
	envelope, err := attest.Sign(k, subjects, f.states)
	Expect(err).NotTo(HaveOccurred())
	path := filepath.Join(GinkgoT().TempDir(), "forged.bundle")
	out, err := os.Create(path)
	Expect(err).NotTo(HaveOccurred())
	defer out.Close()
	Expect(bundle.Write(out, append(files, bundle.Bytes("certificate.json", envelope)))).To(Succeed())
	return path
}

// look verifies without videos, as a stranger would who has the maker's key.
func look(ctx context.Context, path string) *verify.Report {
	GinkgoHelper()
	r, err := verify.Verify(ctx, path, verify.Options{Key: makers, NoVideos: true})
	Expect(err).NotTo(HaveOccurred())
	show(r)
	return r
}

var _ = Describe("a bundle that was forged and signed again", func() {
	It("holds when nothing was changed", func(ctx context.Context) {
		r := look(ctx, forge().write(makersKey))
		Expect(r.Holds).To(BeTrue())
	})

	It("does not hold by another key", func(ctx context.Context) {
		r := look(ctx, forge().write(othersKey))
		Expect(r.Broken()).To(HaveLen(1))
		Expect(r.Broken()[0].What).To(Equal("signature"))
	})

	// What a maker can lie about who signs with the true key.
	DescribeTable("by the true key, is found out", func(ctx context.Context, what, run, why string, change func(*forgery)) {
		f := forge()
		change(f)
		r := look(ctx, f.write(makersKey))
		Expect(r.Code).To(Equal(1))
		b := r.Broken()[0]
		for _, x := range r.Broken() { // the same in more than one run, or that alone
			Expect(x.What).To(Equal(what))
		}
		Expect(b.Run).To(Equal(strings.TrimSuffix(run, "/")))
		Expect(b.Why).To(ContainSubstring(why))
	},
		Entry("the time changed everywhere", "verdicts", firstRun, "the time is told as 3 and found as 4", func(f *forgery) {
			for _, run := range []string{firstRun, secondRun} {
				f.verdicts(run, func(v *judge.RunVerdict) {
					v.Timing.Frames, v.Timing.Low, v.Timing.High = took-1, took-1, took-1
				})
			}
			f.replace("decision.json", `"low": 4`, `"low": 3`)
			f.replace("decision.json", `"high": 4`, `"high": 3`)
			f.replace("decision.json", `"frames": 4`, `"frames": 3`)
			f.states.Measured.Frames, f.states.Measured.Low, f.states.Measured.High = took-1, took-1, took-1
		}),
		Entry("the event put at an earlier picture", "verdicts", firstRun, "timing", func(f *forgery) {
			f.verdicts(firstRun, func(v *judge.RunVerdict) { v.Timing.To.Frame--; v.Timing.To.Since-- })
		}),
		Entry("the time changed in the certificate alone", "certificate", "", "measured.", func(f *forgery) {
			f.states.Measured.Frames, f.states.Measured.Low, f.states.Measured.High = took-1, took-1, took-1
		}),
		Entry("the time changed in the decision alone", "decision", "", "measured.frames is told as 3 and found as 4", func(f *forgery) {
			f.replace("decision.json", `"frames": 4,
    "low": 4,
    "high": 4`, `"frames": 3,
    "low": 3,
    "high": 3`)
		}),
		Entry("the decision in other bytes", "decision", "", "other bytes", func(f *forgery) {
			f.files["decision.json"] = append(f.files["decision.json"], '\n')
		}),
		Entry("a claim of fewer frames", "decision", "", "it takes 4 frames, and 3 frames were claimed", func(f *forgery) {
			f.replace("claim/quick.claim.yaml", "frames: 4", "frames: 3")
			f.states.Claim.Frames = 3
		}),
		Entry("another name on the claim", "certificate", "", "claim.by is told as Eve and found as Ada", func(f *forgery) {
			f.states.Claim.By = "Eve"
		}),
		Entry("a verdict flipped to pass of a checkpoint that fails", "verdicts", firstRun, `checkpoint "has left"`, func(f *forgery) {
			// The house asked that he still stands there at frame 30.
			for _, name := range []string{"spec/leaving.spec.yaml", firstRun + "spec.yaml", secondRun + "spec.yaml"} {
				f.replace(name, "{name: has left, at: 30, hides:", "{name: has left, at: 30, shows:")
			}
			for _, run := range []string{firstRun, secondRun} {
				f.verdicts(run, func(v *judge.RunVerdict) { v.Checkpoints[4].Kind = "shows" })
			}
		}),
		Entry("a failing checkpoint taken out of the verdicts", "pictures", firstRun, "4 verdicts, and the spec has 5 checkpoints", func(f *forgery) {
			for _, run := range []string{firstRun, secondRun} {
				f.verdicts(run, func(v *judge.RunVerdict) { v.Checkpoints = v.Checkpoints[:4] })
			}
		}),
		Entry("a checkpoint taken out of the spec, but not of what was played by", "record", firstRun, "its spec is not spec/leaving.spec.yaml", func(f *forgery) {
			f.replace("spec/leaving.spec.yaml", "  - {name: has left, at: 30, hides: {template: lamplighter-idle, near: [40, 176], within: 1}}\n", "")
		}),
		Entry("another template", "verdicts", firstRun, `checkpoint "waits at the gate"`, func(f *forgery) {
			f.files["spec/lamplighter-idle.png"] = f.files["spec/tumble.png"]
		}),
		Entry("a trace copied from another run", "pictures", secondRun, "its blocks are not those that the trace has", func(f *forgery) {
			f.files[secondRun+"trace.lpt"] = f.files[firstRun+"trace.lpt"]
		}),
		Entry("a run copied as another", "claim", "", "runs/a/run-002 has the same capture.mkv as runs/a/run-001", func(f *forgery) {
			for name, src := range maps.Clone(f.files) {
				for _, dir := range []string{firstRun, pictureOf(firstRun)} {
					if rest, ok := strings.CutPrefix(name, dir); ok {
						f.files[strings.Replace(dir, "001", "002", 1)+rest] = src
					}
				}
			}
			f.videos[secondRun+"capture.mkv"] = f.videos[firstRun+"capture.mkv"]
		}),
		Entry("pictures exchanged for one another", "pictures", firstRun, "its blocks are not those", func(f *forgery) {
			names := f.pictures(firstRun)
			a, b := names[0], names[len(names)-1]
			f.files[a], f.files[b] = f.files[b], f.files[a]
		}),
		Entry("a picture of another run", "pictures", secondRun, "its blocks are not those", func(f *forgery) {
			f.files[f.pictures(secondRun)[3]] = f.files[f.pictures(firstRun)[3]]
		}),
		Entry("a picture taken out", "pictures", firstRun, "which a verdict rests on, is missing", func(f *forgery) {
			delete(f.files, f.pictures(firstRun)[len(f.pictures(firstRun))-1])
		}),
		Entry("a button in the read log", "reads", firstRun, "read 10 was served", func(f *forgery) {
			f.line(firstRun+"reads.csv", 11, func(s string) string { return strings.Replace(s, "0x80", "0x00", 1) })
		}),
		Entry("another program everywhere", "reads", firstRun, "was served", func(f *forgery) {
			for _, name := range []string{"claim/quick.prog", "spec/house.prog", firstRun + "program.prog", secondRun + "program.prog"} {
				f.replace(name, "rest 5", "rest 6")
			}
			f.rehash()
		}),
		Entry("another program in the claim alone", "claim", "", "spec/house.prog is not the claim's program", func(f *forgery) {
			f.replace("claim/quick.prog", "rest 5", "rest 6")
		}),
		Entry("another program hash", "record", secondRun, "another program", func(f *forgery) {
			f.meta(secondRun, func(m *record.Meta) { m.Program.Hash = strings.Repeat("0", 64) })
		}),
		Entry("the reads a frame later", "clock", secondRun, "", func(f *forgery) {
			f.shift(secondRun+"reads.csv", 1, 1, 16639)
		}),
		Entry("the stamps of the pictures a frame later", "clock", secondRun, "", func(f *forgery) {
			f.shift(secondRun+"frames.csv", 1, 1, 16639)
		}),
		Entry("a picture's frame in frames.csv", "clock", firstRun, "picture 20 is", func(f *forgery) {
			f.line(firstRun+"frames.csv", 21, func(s string) string {
				p := strings.Split(s, ",")
				p[2] += "0"
				return strings.Join(p, ",")
			})
		}),
		Entry("an unsure picture made sure", "clock", firstRun, "", func(f *forgery) {
			f.replace(firstRun+"frames.csv", ",unsure", ",outside")
		}),
		Entry("another latency of the bench", "clock", firstRun, "clock is not the one", func(f *forgery) {
			var b struct {
				Bench json.RawMessage `json:"bench"`
				Board json.RawMessage `json:"board"`
			}
			Expect(json.Unmarshal(f.files["benches/a.json"], &b)).To(Succeed())
			b.Bench = later(b.Bench)
			src, err := json.Marshal(b)
			Expect(err).NotTo(HaveOccurred())
			f.files["benches/a.json"] = src
			for _, run := range []string{firstRun, secondRun} {
				f.meta(run, func(m *record.Meta) { m.Bench = later(m.Bench) })
			}
		}),
		Entry("another latency in one run", "record", secondRun, "another bench than benches/a.json", func(f *forgery) {
			f.meta(secondRun, func(m *record.Meta) { m.Bench = later(m.Bench) })
		}),
		Entry("fewer repeats than the policy asks for", "decision", "", "1 of 2 repeats were played", func(f *forgery) {
			f.drop(secondRun)
			f.without("decision.json", secondRun)
			f.states.Benches[0].Runs, f.states.Benches[0].Lockstep = f.states.Benches[0].Runs[:1], 1
		}),
		Entry("a run that the decision does not name", "lockstep", "", "names 1 runs, and there are 2", func(f *forgery) {
			f.without("decision.json", secondRun)
		}),
		Entry("a policy that asks for less", "decision", "", "policy.lockstep is told as 2 and found as 1", func(f *forgery) {
			f.replace("house/house.yaml", "repeats: 2", "repeats: 2\nlockstep: 1")
		}),
		Entry("another policy in the certificate", "certificate", "", "house.", func(f *forgery) {
			f.states.House.Repeats = 1
			f.states.House.Lockstep = 1
		}),
		Entry("a record that it is not", "certificate", "", "standing", func(f *forgery) {
			f.states.Standing = "record"
			f.states.Before = &attest.PredicateBefore{Index: 0, Frames: took - 1, By: "Bo", Leaf: strings.Repeat("0", 64)}
		}),
		Entry("nothing that rests on the videos", "certificate", "", "rests_on_video", func(f *forgery) {
			f.states.RestsOnVideo = nil
		}),
		Entry("certified before it was played", "certificate", "", "before runs/a/run-001 ended", func(f *forgery) {
			f.states.Certified = "2020-01-01T00:00:00Z"
		}),
		Entry("other versions", "certificate", "", "versions", func(f *forgery) {
			f.states.Versions = map[string]string{"latchproof": "99"}
		}),
		Entry("an underrun", "reads", firstRun, "no program data for 1 latch pulses", func(f *forgery) {
			f.meta(firstRun, func(m *record.Meta) { m.Underruns = []int64{3} })
		}),
		Entry("damage", "decision", "", "the evidence is damaged: lost", func(f *forgery) {
			f.meta(firstRun, func(m *record.Meta) { m.Damage = []string{"lost"} })
		}),
		Entry("a partial run", "record", secondRun, "", func(f *forgery) {
			f.meta(secondRun, func(m *record.Meta) { m.State = record.Partial })
		}),
		Entry("another console", "record", firstRun, "another console", func(f *forgery) {
			f.meta(firstRun, func(m *record.Meta) { m.Console.Rate.Num++ })
		}),
		Entry("a file that no bundle has", "files", "", "payload.sh is nothing that a bundle holds", func(f *forgery) {
			f.files["payload.sh"] = []byte("#!/bin/sh\n")
		}),
		Entry("a file that no run has", "record", firstRun, "payload.sh is nothing that a run holds", func(f *forgery) {
			f.files[firstRun+"payload.sh"] = []byte("#!/bin/sh\n")
		}),
		Entry("a file that the claim does not name", "claim", "", "claim/more.txt is nothing that the claim names", func(f *forgery) {
			f.files["claim/more.txt"] = []byte("more\n")
		}),
		Entry("a file that the spec does not name", "claim", "", "spec/more.png is nothing that the spec names", func(f *forgery) {
			f.files["spec/more.png"] = f.files["spec/tumble.png"]
		}),
		Entry("a bench of no run", "claim", "", "benches/b.json is of no run", func(f *forgery) {
			f.files["benches/b.json"] = f.files["benches/a.json"]
		}),
		Entry("pictures of no run", "claim", "", "is of no run", func(f *forgery) {
			f.files["pictures/a/run-009/000001.png"] = f.files[f.pictures(firstRun)[0]]
		}),
		Entry("no trace", "record", firstRun, "trace.lpt is missing", func(f *forgery) { delete(f.files, firstRun+"trace.lpt") }),
		Entry("no decision", "claim", "", "decision.json is missing", func(f *forgery) { delete(f.files, "decision.json") }),
		Entry("no claim", "claim", "", "no claim file", func(f *forgery) { delete(f.files, "claim/quick.claim.yaml") }),
		Entry("no video in the certificate", "claim", "", "has no video in the certificate", func(f *forgery) { delete(f.videos, firstRun+"capture.mkv") }),
		Entry("another video in the certificate", "record", firstRun, "run.json and the certificate name different videos", func(f *forgery) {
			name := firstRun + "capture.mkv"
			was := f.videos[name]
			f.videos[name] = sum([]byte("x"))
			f.meta(firstRun, func(m *record.Meta) {
				m.Files["capture.mkv"] = record.Sum{SHA256: was, Bytes: 1}
			})
			f.asSealed = append(f.asSealed, firstRun)
		}),
	)

	It("is found out by a hash in its record alone", func(ctx context.Context) {
		f := forge()
		f.files[firstRun+"service.csv"] = append(f.files[firstRun+"service.csv"], '\n')
		r := look(ctx, f.pack(makersKey))
		Expect(r.Broken()).To(HaveLen(1))
		Expect(r.Broken()[0].What).To(Equal("record"))
		Expect(r.Broken()[0].Why).To(ContainSubstring("service.csv"))
	})
})
