package browser

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"sync"

	"github.com/chromedp/chromedp"
)

var errNoBrowser = errors.New("chromium is not installed: make test-deps installs it")

// chromium is the one browser of a run of the tests. It is started by the first
// page that is opened.
var chromium struct {
	once   sync.Once
	err    error
	ctx    context.Context
	cancel []func()
}

func startBrowser() (context.Context, error) {
	c := &chromium
	c.once.Do(func() {
		path, err := exec.LookPath("chromium")
		if err != nil {
			c.err = errNoBrowser
			return
		}
		home, err := os.MkdirTemp("", "latchproof-browser-")
		if err != nil {
			c.err = err
			return
		}
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
			chromedp.UserDataDir(home), chromedp.Env("HOME="+home), chromedp.Flag("hide-scrollbars", true))
		alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, end := chromedp.NewContext(alloc)
		c.cancel = []func(){func() { _ = chromedp.Cancel(ctx) }, end, stop, func() { _ = os.RemoveAll(home) }}
		c.ctx, c.err = ctx, chromedp.Do(ctx)
	})
	return c.ctx, c.err
}

func stopBrowser() {
	for _, f := range chromium.cancel {
		f()
	}
}
