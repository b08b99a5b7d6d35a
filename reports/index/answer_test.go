package index

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("the answer", func() {
	var dir string
	BeforeEach(func() { dir = GinkgoT().TempDir() })

	It("takes each spec by its latest session, on each configuration", func() {
		put(dir, "1", session(9, "1.2", outcome{"lamp", "not held", 4, 5}))
		put(dir, "2", session(8, "1.2", outcome{"lamp", "held", 5, 5}, outcome{"cart", "held", 5, 5}))
		put(dir, "3", session(7, "1.3", outcome{"cart", "cannot tell", 5, 5}))
		put(dir, "4", session(6, "1.3", outcome{"lamp", "held", 5, 5}))
		other := session(5, "1.3", outcome{"bell", "held", 5, 5})
		other.Bench.Name = "window bench"
		put(dir, "5", other)
		x := read(dir)
		Expect(x.Configurations).To(HaveLen(3))
		c := x.Configurations[0]
		Expect([]any{c.Bench, c.Current, c.Verdict, c.Held}).To(Equal([]any{"window bench", true, held, []string{"bell"}}))
		c = x.Configurations[1]
		Expect([]any{c.Firmware, c.Current, c.Verdict, c.Held, c.Untold, c.Sessions}).To(Equal([]any{"1.3", true, untold, []string{"lamp"}, []string{"cart"}, 2}))
		c = x.Configurations[2]
		Expect([]any{c.Firmware, c.Current, c.Verdict, c.Held, c.NotHeld, c.SessionsHeld}).To(Equal([]any{"1.2", false, held, []string{"lamp", "cart"}, []string{}, 1}))
		Expect(x.Worse).To(BeEmpty())
		Expect(x.Verdict()).To(Equal(untold))
		Expect(x.Sentence).To(Equal("window bench, firmware 1.3, revision C: its spec held when it was last played. workbench, firmware 1.3, revision C: 1 of 2 specs held when last played, 1 cannot be told. Nothing that held before fails now."))
	})

	It("says since when a spec does not hold, and what changed there", func() {
		put(dir, "1", session(9, "1.2", outcome{"lamp", "held", 5, 5}))
		put(dir, "2", session(8, "1.2", outcome{"lamp", "cannot tell", 5, 5}))
		worse := session(7, "1.3", outcome{"lamp", "not held", 4, 5})
		worse.Bench.FeederSerial = "F8"
		worse.Specs[0].ProgramHash = "other"
		put(dir, "3", worse)
		put(dir, "4", session(6, "1.3", outcome{"lamp", "cannot tell", 4, 5}))
		put(dir, "5", session(5, "1.3", outcome{"lamp", "not held", 4, 5}))
		put(dir, "6", session(4, "1.3", outcome{"lamp", "cannot tell", 4, 5}, outcome{"new", "not held", 1, 5}))
		x := read(dir)
		Expect(x.Worse).To(Equal([]Change{{Bench: "workbench", Spec: "lamp", Held: 5, Since: 3,
			Changed: []string{"firmware from 1.2 to 1.3", "board serial from F7 to F8", "the program"}}}))
		Expect(x.Sessions[3].Path).To(Equal("3/report.json"))
		Expect(x.Verdict()).To(Equal(notHeld))
		Expect(render(x)).To(ContainSubstring(`not held since <a href="./3/report.html">2026-05-13 12:00</a>; it held on <a href="./1/report.html">`))
	})

	It("calls nothing worse that holds again, or never held, or is another bench", func() {
		put(dir, "1", session(9, "1.2", outcome{"lamp", "held", 5, 5}))
		put(dir, "2", session(8, "1.2", outcome{"lamp", "not held", 5, 5}))
		put(dir, "3", session(7, "1.2", outcome{"lamp", "held", 5, 5}))
		put(dir, "4", session(6, "1.2", outcome{"never", "not held", 1, 5}))
		other := session(5, "1.2", outcome{"lamp", "not held", 2, 5})
		other.Bench.Simulated = true
		put(dir, "5", other)
		Expect(read(dir).Worse).To(BeEmpty())
	})

	It("finds a spec that holds less often than with the firmware before, by Fisher's exact test", func() {
		// Of ten sessions 9 held before; of six 1 holds now, the last. One-sided P of
		// the table 5 1 / 1 9 is (6*10+1)/C(16,6) = 61/8008 (hypergeometric tail, by
		// hand): doubled by Holm for two specs.
		verdict := func(ok bool) string { return map[bool]string{true: "held", false: "not held"}[ok] }
		day := 40
		play := func(firmware string, lamp, cart string) {
			day--
			put(dir, fmt.Sprint("s", day), session(day, firmware, outcome{"lamp", lamp, 5, 5}, outcome{"cart", cart, 5, 5}))
		}
		for i := range 10 {
			play("1.2", verdict(i != 4), verdict(i%2 == 0))
		}
		play("1.3", "cannot tell", "held")
		for i := range 6 {
			play("1.3", verdict(i == 5), "held")
		}
		x := read(dir)
		Expect(x.Worse).To(BeEmpty(), "the last one held")
		Expect(x.Fell).To(HaveLen(1))
		f := x.Fell[0]
		Expect(f.P).To(BeNumerically("~", 2*61.0/8008, 1e-12))
		Expect([]any{f.Spec, f.Held, f.Of, f.HeldThen, f.OfThen, f.Changed}).To(Equal([]any{"lamp", int64(1), int64(6), int64(9), int64(10), []string{"firmware from 1.2 to 1.3"}}))
		Expect(x.Sessions[f.Since].Path).To(Equal("s29/report.json"))
		Expect(x.Sessions[f.Before].Path).To(Equal("s30/report.json"))
		Expect(x.Verdict()).To(Equal(notHeld))
		Expect(render(x)).To(ContainSubstring("in 9 of 10 with the board before (P = 0.0152)"))
	})

	It("answers for soaks and baseline checks with what was asked", func() {
		putText(dir, "1", `{"made":"2026-05-01T10:00:00Z","specs":[],"baseline":{"verdict":"no worse"}}`)
		putText(dir, "2", `{"made":"2026-05-02T10:00:00Z","specs":[],"baseline":{"verdict":"worse"}}`)
		putText(dir, "3", `{"made":"2026-05-03T10:00:00Z","specs":[{"name":"lamp","verdict":"held"}],"soak":{"verdict":"cannot tell"}}`)
		x := read(dir)
		Expect([]string{x.Sessions[0].Verdict, x.Sessions[1].Verdict, x.Sessions[2].Verdict}).To(Equal([]string{untold, notHeld, held}))
		Expect(x.Worse).To(HaveLen(1))
		Expect(x.Worse[0].Spec).To(Equal("baseline"))
	})
})
