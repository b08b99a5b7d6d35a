package browser

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// tab is one page in the browser.
type tab struct {
	ctx  context.Context
	file string
	mu   sync.Mutex
	// What the page must not do, in words.
	trouble []string
}

// view is how a page is looked at.
type view struct {
	w, h     int64
	scale    float64 // device pixels to a CSS pixel; 0 is 1
	print    bool
	features map[string]string // media features
	noScript bool
}

var desk = view{w: 1280, h: 800}

// with is the view with one more media feature.
func (v view) with(name, value string) view {
	m := map[string]string{name: value}
	for k, x := range v.features {
		m[k] = x
	}
	v.features = m
	return v
}

// openFile opens a page from disk. The caller closes the tab.
func openFile(file string, v view) (*tab, func(), error) {
	parent, err := startBrowser()
	if err != nil {
		return nil, nil, err
	}
	ctx, cancel := chromedp.NewContext(parent)
	ctx, stop := context.WithTimeout(ctx, 5*time.Minute) // a busy machine is slow
	t := &tab{ctx: ctx, file: file}
	end := func() {
		_ = chromedp.Cancel(ctx)
		stop()
		cancel()
	}
	if err = errors.Join(chromedp.Do(ctx), chromedp.Listen(ctx, t.heard), t.look(v)); err == nil {
		err = chromedp.Do(ctx, chromedp.Navigate(fileURL(file)))
	}
	if err != nil {
		end()
		return nil, nil, err
	}
	return t, end, nil
}

func fileURL(file string) string { return (&url.URL{Scheme: "file", Path: file}).String() }

// look changes how the page is looked at.
func (t *tab) look(v view) error {
	var features []*emulation.MediaFeature
	for k, x := range v.features {
		features = append(features, &emulation.MediaFeature{Name: k, Value: x})
	}
	media := emulation.SetEmulatedMediaParams{Features: features}
	if v.print {
		media.Media = "print"
	}
	_, err := chromedp.Call(t.ctx, emulation.SetEmulatedMedia, media)
	_, err2 := chromedp.Call(t.ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: v.w, Height: v.h, DeviceScaleFactor: max(v.scale, 1)})
	_, err3 := chromedp.Call(t.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: v.noScript})
	return errors.Join(err, err2, err3)
}

// heard notes what a page must not do: ask for anything but itself, write an
// error to the console, throw, or open a dialog.
func (t *tab) heard(ev any) {
	var what string
	switch ev := ev.(type) {
	case *network.EventRequestWillBeSent:
		if u := ev.Request.URL; u != fileURL(t.file) && !strings.HasPrefix(u, fileURL(t.file)+"#") && !strings.HasPrefix(u, "data:image/") {
			what = "request of " + u
		}
	case *runtime.EventConsoleAPICalled:
		if ev.Type == "error" || ev.Type == "warning" || ev.Type == "assert" {
			what = fmt.Sprintf("console %s", ev.Type)
			for _, a := range ev.Args {
				what += " " + string(a.Value) + a.Description
			}
		}
	case *runtime.EventExceptionThrown:
		what = "exception: " + ev.ExceptionDetails.Text
		if e := ev.ExceptionDetails.Exception; e != nil {
			what += " " + e.Description
		}
	case *log.EventEntryAdded:
		if ev.Entry.Level == "error" || ev.Entry.Level == "warning" {
			what = fmt.Sprintf("%s: %s", ev.Entry.Level, ev.Entry.Text)
		}
	case *page.EventJavascriptDialogOpening:
		what = "dialog: " + ev.Message
	}
	if what != "" {
		t.mu.Lock()
		t.trouble = append(t.trouble, what)
		t.mu.Unlock()
	}
}

func (t *tab) heardSoFar() []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return append([]string(nil), t.trouble...)
}

// open opens a page from disk. At the end of the test it must have kept quiet.
func open(p sample, v view) *tab {
	GinkgoHelper()
	file := filepath.Join(GinkgoT().TempDir(), "report.html")
	Expect(os.WriteFile(file, p(), 0o666)).To(Succeed())
	t, end, err := openFile(file, v)
	if errors.Is(err, errNoBrowser) {
		Skip(err.Error())
	}
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(func() {
		trouble := t.heardSoFar()
		end()
		Expect(trouble).To(BeEmpty(), "what the page did")
	})
	return t
}

// ask evaluates an expression in the page.
func ask[T any](t *tab, expression string) T {
	GinkgoHelper()
	out, err := chromedp.Run(t.ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	Expect(err).NotTo(HaveOccurred(), "%.200s", expression)
	return out
}

// do runs statements in the page.
func (t *tab) do(statements string) {
	GinkgoHelper()
	Expect(ask[bool](t, "(() => {"+statements+"; return true})()")).To(BeTrue())
}

func (t *tab) press(keys string, opts ...chromedp.KeyOption) {
	GinkgoHelper()
	Expect(chromedp.Do(t.ctx, chromedp.KeyEvent(keys, opts...))).To(Succeed())
}

func (t *tab) set(v view) {
	GinkgoHelper()
	Expect(t.look(v)).To(Succeed())
}

const openAll = `document.querySelectorAll("details").forEach(d => d.open = true)`
