package index

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/reports"
)

var _ = Describe("reading", func() {
	var dir string
	BeforeEach(func() { dir = GinkgoT().TempDir() })

	It("keeps of a report what an index shows, and knows no key that reports do not have", func() {
		put(dir, "a/b c", session(3, "1.2", outcome{"lamp", "held", 5, 5}, outcome{"cart", "not held", 3, 5}))
		s := read(dir).Sessions[0]
		Expect(s.Path).To(Equal("a/b c/report.json"))
		Expect(s.Page).To(BeTrue())
		Expect(s.Made).To(Equal(today.AddDate(0, 0, -3)))
		Expect([]string{s.Bench, s.Revision, s.Firmware, s.FeederSerial, s.ConsoleSerial, s.Verdict}).To(Equal([]string{"workbench", "C", "1.2", "F7", "N9", notHeld}))
		Expect(s.Specs[0]).To(Equal(Spec{Name: "lamp", ProgramHash: "abc", Verdict: held, InStep: 5, Repeats: 5, Rate: &Spread{1, 0.1, 1}}))
		Expect(s.Specs[1].Rate).To(Equal(&Spread{0.5, 0.1, 1}))
		Expect(s.Specs[1].First).To(Equal(&Divergence{512, "input", "board"}), "the earliest")
		Expect(s.JitterUS).To(Equal(&Spread{3, 2, 4}))
		Expect(s.PPM).To(Equal(&Spread{-10, -20, 0}))
		Expect(s.ServiceUS).To(Equal(&Spread{1.5, 1.5, 4}), "up to the worst single read")
		subset(reflect.TypeFor[sessionFile](), reflect.TypeFor[reports.Session]())
	})

	It("reads reports of older versions: fewer keys, and the board in words", func() {
		putText(dir, "old", `{"title":"t","made":"2026-05-01T10:00:00Z","bench":{"name":"w","console":"c, serial N1","feeder":"board, revision B, firmware 0.9, serial F2"},"specs":[{"name":"lamp","verdict":"held","repeats":[{"clock":"measured","ppm":3,"jitter_us":7},{"clock":"assumed","ppm":99,"jitter_us":0}]}]}`)
		putText(dir, "older", `{"specs":[]}`)
		putText(dir, "newer", `{"made":"2026-05-02T10:00:00Z","specs":[],"never heard of":[1,{"x":null}]}`)
		x := read(dir)
		Expect(x.Unread).To(BeEmpty())
		Expect(x.Sessions).To(HaveLen(3))
		s := x.Sessions[1]
		Expect([]string{s.Revision, s.Firmware, s.FeederSerial, s.ConsoleSerial}).To(Equal([]string{"B", "0.9", "F2", "N1"}))
		Expect(s.Specs[0].Rate).To(BeNil())
		Expect(s.JitterUS).To(Equal(&Spread{7, 7, 7}), "of clocks that were measured")
		Expect(x.Sessions[2].Dated).To(BeFalse())
		Expect(x.Sessions[2].Verdict).To(Equal(untold))
	})

	DescribeTable("says which report could not be read and why, and goes on",
		func(text, why string) {
			putText(dir, "bad", text)
			put(dir, "good", session(1, "1", outcome{"lamp", "held", 5, 5}))
			x := read(dir)
			Expect(x.Sessions).To(HaveLen(1))
			Expect(x.Unread).To(HaveLen(1))
			Expect(x.Unread[0].Path).To(Equal("bad/report.json"))
			Expect(x.Unread[0].Why).To(ContainSubstring(why))
		},
		Entry("empty", "", "not JSON at byte 0"),
		Entry("cut", `{"specs":[{"na`, "not JSON at byte 14: unexpected end"),
		Entry("something else", `{"spec":1}`, "no key specs"),
		Entry("null", `null`, "no key specs"),
		Entry("a list", `[{}]`, "JSON array"),
		Entry("a wrong kind", `{"specs":[{"lockstep":{"in_step":"five"}}]}`, "in_step holds a JSON string"),
		Entry("a number too large", `{"specs":[{"lockstep":{"low":1e999}}]}`, "JSON number"),
		Entry("brackets", `]]]]`, "a bracket too many"),
		Entry("deep", `{"specs":`+strings.Repeat("[", 40), "more than 32"),
		Entry("many entries", `{"specs":[`+strings.Repeat("0,", maxValues)+`0]}`, "more than 400000 list entries"),
		Entry("many empty lists", `{"x":[`+strings.Repeat("[],", maxValues/2)+`[]]}`, "list entries"),
		Entry("large", `{"specs":[]}`+strings.Repeat(" ", maxBytes), "a report has at most 32"),
	)

	It("counts entries of lists only, at their bound and one beyond, and not inside texts", func() {
		list := func(n int) string { return `{"x":[` + strings.Repeat("0,", n-1) + `0],"t":"[\"[,,,,"}` }
		Expect(bounded([]byte(list(maxValues)))).To(Succeed())
		Expect(bounded([]byte(list(maxValues + 1)))).NotTo(Succeed())
		Expect(bounded([]byte(strings.Repeat("[", maxDepth)))).To(Succeed())
		Expect(bounded([]byte(strings.Repeat("[", maxDepth+1)))).NotTo(Succeed())
	})

	It("follows no link, opens nothing but files, and goes ten folders deep", func() {
		outside := GinkgoT().TempDir()
		put(outside, "x", session(1, "1"))
		Expect(os.Symlink(outside, filepath.Join(dir, "link"))).To(Succeed())
		Expect(os.Symlink(dir, filepath.Join(dir, "loop"))).To(Succeed())
		Expect(os.Mkdir(filepath.Join(dir, "linked"), 0o777)).To(Succeed())
		Expect(os.Symlink(filepath.Join(outside, "x", dataFile), filepath.Join(dir, "linked", dataFile))).To(Succeed())
		Expect(os.MkdirAll(filepath.Join(dir, "folder", dataFile), 0o777)).To(Succeed())
		put(dir, strings.Repeat("d/", 10), session(2, "1"))
		put(dir, strings.Repeat("e/", 11), session(3, "1"))
		x := read(dir)
		Expect(x.Sessions).To(HaveLen(1))
		Expect(x.Sessions[0].Path).To(HavePrefix("d/"))
		Expect(x.Unread).To(BeEmpty())
		Expect(x.Notes).To(ConsistOf("1 folder more than 10 levels down were not looked into."))
	})

	It("leaves out what cannot be", func() {
		s := session(1, "1", outcome{"lamp", "held", 5, 5})
		s.Specs[0].Lockstep.InStep = 9
		s.Specs[0].ReadTiming = []reports.ReadTiming{{JitterUS: 1e300, PPM: -1e9, ServiceMedianUS: 1e12, ServiceWorstUS: 1}}
		put(dir, "a", s)
		s = session(1, "1", outcome{"lamp", "proudly held", 3, 5})
		s.Made = today.Add(25 * time.Hour)
		s.Specs[0].Lockstep.Low = 0.9
		put(dir, "b", s)
		x := read(dir)
		a, b := x.Sessions[0], x.Sessions[1]
		Expect(a.Specs[0].Rate).To(BeNil())
		Expect([]*Spread{a.JitterUS, a.PPM, a.ServiceUS}).To(Equal([]*Spread{nil, nil, nil}))
		Expect(b.Dated).To(BeFalse(), "tomorrow")
		Expect(b.Specs[0].Verdict).To(Equal(untold))
		Expect(b.Specs[0].Rate.Low).To(BeNumerically(">", b.Specs[0].Rate.High), "no limits")
	})

	It("is an error for no folder and for a folder without a report, and ends with its context", func() {
		_, err := Read(context.Background(), filepath.Join(dir, "none"), today, "")
		Expect(err).To(MatchError(os.ErrNotExist))
		_, err = Read(context.Background(), dir, today, "")
		Expect(err).To(MatchError(ErrNone))
		put(dir, "a", session(1, "1"))
		ctx, stop := context.WithCancel(context.Background())
		stop()
		_, err = Read(ctx, dir, today, "")
		Expect(err).To(MatchError(context.Canceled))
	})

	It("writes JSON without null lists", func() {
		putText(dir, "a", `{"specs":[]}`)
		var b bytes.Buffer
		Expect(WriteJSON(&b, read(dir))).To(Succeed())
		Expect(b.String()).NotTo(MatchRegexp(`"(sessions|specs|worse|unread|notes|held|not_held|cannot_tell|changed|configurations)": null`))
		Expect(b.String()).To(ContainSubstring(`"configurations": [`))
	})
})

// subset holds the keys of what is read to those that are written.
func subset(part, whole reflect.Type) {
	GinkgoHelper()
	for part.Kind() == reflect.Pointer || part.Kind() == reflect.Slice {
		part = part.Elem()
	}
	for whole.Kind() == reflect.Pointer || whole.Kind() == reflect.Slice {
		whole = whole.Elem()
	}
	if part == whole || part.Kind() != reflect.Struct {
		Expect(part).To(Equal(whole))
		return
	}
	keys := map[string]reflect.StructField{}
	for i := range whole.NumField() {
		f := whole.Field(i)
		key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		keys[key] = f
	}
	for i := range part.NumField() {
		f := part.Field(i)
		key := f.Tag.Get("json")
		Expect(keys).To(HaveKey(key), fmt.Sprintf("%s.%s", part, f.Name))
		subset(f.Type, keys[key].Type)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(`{"made":"2026-05-01T10:00:00Z","specs":[{"name":"a","lockstep":{"in_step":1,"repeats":2}}]}`))
	f.Add([]byte(`{"specs":[{"divergences":[{"frame":1}],"read_timing":[{}],"repeats":[{"clock":"measured"}]}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := parse(data, today)
		if err != nil {
			return
		}
		x := Index{Sessions: []Session{s}}
		x.answer()
		var b bytes.Buffer
		if err := WriteHTML(&b, x, ""); err != nil {
			t.Fatal(err)
		}
	})
}
