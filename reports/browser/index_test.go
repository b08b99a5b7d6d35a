package browser

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"latchproof/reports"
	"latchproof/reports/index"
)

// manyEvenings is the index over made-up sessions: two benches, three firmwares,
// a spec that got worse with the last of them.
var manyEvenings = sync.OnceValue(func() []byte {
	dir, err := os.MkdirTemp("", "index")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	last := time.Date(2031, 5, 20, 19, 0, 0, 0, time.UTC)
	for n := range 40 {
		s := reports.Session{Title: fmt.Sprintf("evening %d", n+1), Made: last.AddDate(0, 0, 3*(n-40)), Version: "0", Bench: reports.Bench{
			Name: []string{"kitchen table", "cellar"}[n%2], FeederRevision: []string{"B", "C"}[n/20], FeederFirmware: fmt.Sprintf("1.%d.0", n/14), FeederSerial: "F7", ConsoleSerial: "N9"}}
		for i, name := range []string{"first-lamp", "hasty"} {
			sp := reports.Spec{Name: name, Verdict: "held", Lockstep: reports.Lockstep{InStep: 10, Repeats: 10, Low: 0.66, High: 1}}
			if i == 1 && n > 33 {
				sp.Verdict, sp.Lockstep.InStep, sp.Lockstep.Low = "not held", 10-n%4-1, 0.3
				sp.Divergences = []reports.Divergence{{Frame: int64(500 + n), Kind: "input", Part: "board"}}
			}
			for k := range 5 {
				sp.ReadTiming = append(sp.ReadTiming, reports.ReadTiming{Repeat: fmt.Sprint(k), JitterUS: 2 + float64((n*7+k*3)%5), PPM: -4 + float64(k), ServiceMedianUS: 1.5, ServiceWorstUS: 2.2 + float64(n%3)})
			}
			s.Specs = append(s.Specs, sp)
		}
		var b bytes.Buffer
		folder := filepath.Join(dir, fmt.Sprintf("evening-%02d", n+1))
		if err := reports.WriteJSON(&b, s); err != nil {
			panic(err)
		}
		if err := os.Mkdir(folder, 0o777); err != nil {
			panic(err)
		}
		for name, data := range map[string][]byte{"report.json": b.Bytes(), "report.html": []byte("a page")} {
			if err := os.WriteFile(filepath.Join(folder, name), data, 0o666); err != nil {
				panic(err)
			}
		}
	}
	x, err := index.Read(context.Background(), dir, last, "0")
	if err != nil {
		panic(err)
	}
	var page bytes.Buffer
	if err := index.WriteHTML(&page, x, dir); err != nil {
		panic(err)
	}
	return page.Bytes()
})

var _ = Describe("the index", func() {
	for _, scheme := range []string{"light", "dark"} {
		It("leaves the accessibility checker nothing to find, "+scheme, func() {
			t := open(manyEvenings, desk.with("prefers-color-scheme", scheme))
			Expect(check(t)).To(BeEmpty())
			t.shoot("index-" + scheme)
		})
	}

	It("says what got worse before anything is scrolled, and shows its trends", func() {
		t := open(manyEvenings, desk)
		Expect(ask[string](t, `[...document.querySelectorAll("main *")].filter(e => !e.children.length && e.getBoundingClientRect().bottom <= innerHeight && e.checkVisibility()).map(e => e.innerText).join(" ")`)).To(ContainSubstring("hasty"))
		Expect(ask[int](t, `document.querySelectorAll("svg[role=img]").length`)).To(BeNumerically(">=", 2), "trends")
		Expect(ask[int](t, `document.scripts.length`)).To(BeZero())
	})

	It("has room in 320 pixels", func() {
		t := open(manyEvenings, view{w: 320, h: 700})
		Expect(ask[[]string](t, wide)).To(BeEmpty(), "the page scrolls sideways")
		Expect(ask[[]string](t, cut)).To(BeEmpty(), "text is cut off")
		Expect(ask[[]string](t, loose)).To(BeEmpty(), "scrolls, and is no region with a name and a focus")
		Expect(check(t)).To(BeEmpty())
		t.shoot("index-320")
	})
})
