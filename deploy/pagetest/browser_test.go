//go:build pagetest

package pagetest

import (
	"context"
	"fmt"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patience is more than any step takes on a busy machine.
const patience = 60 * time.Second

// screen is what a person looks at.
type screen struct {
	name          string
	width, height int64
	dark          bool
}

var (
	phone   = screen{"phone", 390, 844, false}
	small   = screen{"320 px", 320, 640, false}
	night   = screen{"phone, dark", 390, 844, true}
	desktop = screen{"desktop", 1280, 900, false}
)

// tab is a page in a browser of its own, with nothing kept from before.
type tab struct {
	t      *testing.T
	ctx    context.Context
	screen screen

	mu    sync.Mutex
	threw []string
}

func newTab(t *testing.T, s screen) *tab {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.ExecPath(os.Getenv("CHROMIUM")), chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	ctx, end := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(end)
	ctx, end = chromedp.NewContext(ctx)
	t.Cleanup(end)
	b := &tab{t: t, ctx: ctx, screen: s}
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank"))) // the browser lives as long as the context of its first step
	b.does(chromedp.EmulateViewport(s.width, s.height))
	b.does(command(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: map[bool]string{true: "dark", false: "light"}[s.dark]},
		{Name: "prefers-reduced-motion", Value: "reduce"},
	}}))
	require.NoError(t, chromedp.Listen(ctx, b.heed))
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		assert.Empty(t, b.threw, "the page threw")
	})
	return b
}

// command is one of the protocol's.
func command[P, R any](c cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, c, params)
		return err
	})
}

// heed notes what the page throws: nothing, or the test fails.
func (b *tab) heed(ev any) {
	if e, ok := ev.(*runtime.EventExceptionThrown); ok {
		b.mu.Lock()
		b.threw = append(b.threw, fmt.Sprint(e.ExceptionDetails.Text, " ", e.ExceptionDetails.Exception.Description))
		b.mu.Unlock()
	}
}

func (b *tab) does(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, patience)
	defer end()
	require.NoError(b.t, chromedp.Do(ctx, steps...))
}

func (b *tab) open(url string) {
	b.t.Helper()
	b.does(chromedp.Navigate(url))
}

// asks evaluates an expression, which may be a promise.
func asks[T any](b *tab, expression string) T {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, patience)
	defer end()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, expression)
	return v
}

// until waits for an expression to be true.
func (b *tab) until(expression string) {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, patience)
	defer end()
	soon := `(() => { try { return !!(` + expression + `) } catch (notThereYet) { return false } })()`
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](soon, chromedp.WithPollingInterval(20*time.Millisecond), chromedp.WithPollingTimeout(patience)))
	if err != nil {
		require.NoError(b.t, err, "%s\nthe page says:\n%s", expression, asks[string](b, `document.body.innerText`))
	}
}

// live waits for the first picture.
func (b *tab) live() { b.t.Helper(); b.until(`document.documentElement.dataset.line === 'live'`) }

// presses a button by its words, as a person who reads does.
func (b *tab) presses(words string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`!!(%s)`, button(words)))
	asks[bool](b, fmt.Sprintf(`(%s).click(), true`, button(words)))
}

func button(words string) string {
	return fmt.Sprintf(`[...document.querySelectorAll('button')].find(b => b.offsetParent && b.textContent === %q)`, words)
}

// tall makes the screen as high as the page, until the function is called.
func (b *tab) tall() func() {
	b.t.Helper()
	b.does(chromedp.EmulateViewport(b.screen.width, asks[int64](b, `document.documentElement.scrollHeight`)))
	return func() { b.does(chromedp.EmulateViewport(b.screen.width, b.screen.height)) }
}

// picture keeps a picture of the whole page, or of what the screen shows.
func (b *tab) picture(name string, whole bool) {
	b.t.Helper()
	dir := os.Getenv("PICTURES")
	if dir == "" {
		return
	}
	if whole {
		defer b.tall()()
	}
	ctx, end := context.WithTimeout(b.ctx, patience)
	defer end()
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(dir+"/"+name+".png", png, 0o644))
}
