package browser

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// BenchmarkLoad opens the page of a hundred repeats of ten minutes, from the
// beginning of the navigation to the load event and the first drawing of what it
// shows, as the page's own clock has it.
func BenchmarkLoad(b *testing.B) {
	file := filepath.Join(b.TempDir(), "report.html")
	if err := os.WriteFile(file, hundred(), 0o666); err != nil {
		b.Fatal(err)
	}
	var load, paint float64
	for b.Loop() {
		t, end, err := openFile(file, desk)
		if errors.Is(err, errNoBrowser) {
			b.Skip(err)
		}
		if err != nil {
			b.Fatal(err)
		}
		got, err := chromedp.Run(t.ctx, chromedp.Evaluate[[]float64](`new Promise(done => requestAnimationFrame(() => setTimeout(() => done([performance.getEntriesByType("navigation")[0].loadEventEnd, performance.now()]))))`, chromedp.EvalAwaitPromise))
		end()
		if err != nil {
			b.Fatal(err)
		}
		load, paint = load+got[0], paint+got[1]
	}
	b.ReportMetric(load/float64(b.N), "ms-load/op")
	b.ReportMetric(paint/float64(b.N), "ms-drawn/op")
	b.ReportMetric(float64(len(hundred()))/1e6, "MB")
}

func TestMain(m *testing.M) {
	code := m.Run()
	stopBrowser()
	os.Exit(code)
}
