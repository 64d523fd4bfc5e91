//go:build pagetest

package pagetest

import (
	"net/url"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// budget is what a first look may load: bytes on the wire, without the headers of the
// answers.
const budget = 25_000

// load adds up what a page loads.
type load struct {
	mu    sync.Mutex
	paths map[network.RequestID]string
	bytes map[string]int64
	order []string

	headers int64
}

func (l *load) heed(ev any) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		u, _ := url.Parse(e.Request.URL)
		l.paths[e.RequestID] = u.Path
		l.order = append(l.order, u.Path)
	case *network.EventResponseReceived:
		if n := int64(e.Response.EncodedDataLength); l.paths[e.RequestID] != "/api/v1/events" {
			l.bytes[l.paths[e.RequestID]] -= n
			l.headers += n
		}
	case *network.EventLoadingFinished:
		l.bytes[l.paths[e.RequestID]] += int64(e.EncodedDataLength)
	}
}

func TestAFirstLookIsSmallAndAsksNobodyElse(t *testing.T) {
	p := start(t, "300", "127.0.0.1:0")
	p.says(t, "outcome=proven")
	b := newTab(t, phone)
	l := &load{paths: map[network.RequestID]string{}, bytes: map[string]int64{}}
	b.does(command(network.Enable, network.EnableParams{}))
	require.NoError(t, chromedp.Listen(b.ctx, l.heed))
	begun := time.Now()
	b.open(p.url)
	b.live()
	b.until(`!!document.querySelector('svg.section')`)
	took := time.Since(begun)
	b.does(chromedp.Sleep(time.Second)) // what comes late counts too

	l.mu.Lock()
	defer l.mu.Unlock()
	total := int64(0)
	for _, path := range l.order {
		if n := l.bytes[path]; n > 0 && path != "/api/v1/events" {
			t.Logf("%6d bytes %s", n, path)
			total += n
			l.bytes[path] = 0
		}
	}
	t.Logf("first load: %d bytes in %d requests, and %d bytes of headers, live after %s", total, len(l.order), l.headers, took.Round(time.Millisecond))
	assert.LessOrEqual(t, total, int64(budget))
	assert.Greater(t, total, int64(10_000), "the count must count")
}

// A switch of the bench changes the page within a second.
func TestASwitchShowsWithinASecond(t *testing.T) {
	p := start(t, "60", "127.0.0.1:0")
	b := newTab(t, phone)
	b.open(p.url)
	b.live()
	b.until(`!!document.querySelector('svg.section')`)
	assert.NotEqual(t, "wet", asks[string](b, fullBall+`.dataset.is`), "the flood was over before the page was there")
	shown := asks[float64](b, `new Promise(done => new MutationObserver(() => { if (`+fullBall+`.dataset.is === 'wet') done(Date.now()) })
		.observe(document.querySelector('main'), { attributes: true, subtree: true, childList: true }))`)
	said := p.says(t, "north.full wet").at
	late := time.UnixMilli(int64(shown)).Sub(said)
	t.Logf("FULL shown %s after the program told of it", late.Round(time.Millisecond))
	assert.Less(t, late, time.Second)
	assert.Contains(t, asks[string](b, `document.querySelector('.depth').textContent`), "Proven: FULL shows at least 26 mm")
}

// fullBall is the float of FULL, the lower of two.
const fullBall = `[...document.querySelectorAll('.float')].pop()`

func TestTwoPagesSeeTheSame(t *testing.T) {
	p := start(t, "1", "127.0.0.1:0")
	one, two := newTab(t, phone), newTab(t, desktop)
	for _, b := range []*tab{one, two} {
		b.open(p.url)
		b.live()
	}
	one.presses("Hands in")
	one.presses("Hands in: stop everything")
	for _, b := range []*tab{one, two} {
		b.until(`/hands in: nothing starts/.test(document.querySelector('.charge').textContent)`)
		assert.Equal(t, "hands", asks[string](b, `document.querySelector('.board').dataset.state`))
	}
	two.presses("Hands out")
	two.presses("Hands out: go on")
	for _, b := range []*tab{one, two} {
		b.until(`/Automatic/.test(document.querySelector('.charge').textContent)`)
	}
}

func TestThePageIsVisiblyOldSoonAfterTheProgramStops(t *testing.T) {
	for name, stop := range map[string]syscall.Signal{"ended": syscall.SIGTERM, "killed": syscall.SIGKILL, "hung": syscall.SIGSTOP} {
		t.Run(name, func(t *testing.T) {
			p := start(t, "60", "127.0.0.1:0")
			b := newTab(t, phone)
			b.open(p.url)
			b.live()
			b.does(chromedp.Sleep(1500 * time.Millisecond))
			stopped := time.Now()
			require.NoError(t, p.cmd.Process.Signal(stop))
			b.until(`document.documentElement.dataset.line === 'old'`)
			late := time.Since(stopped)
			t.Logf("%s: old after %s", name, late.Round(time.Millisecond))
			assert.Less(t, late, 3*time.Second)
			assert.Equal(t, "No contact with the controller", asks[string](b, `document.getElementById('word').textContent`))
			assert.Contains(t, asks[string](b, `document.getElementById('age').textContent`), "OLD")
			if stop == syscall.SIGSTOP {
				require.NoError(t, p.cmd.Process.Signal(syscall.SIGCONT))
				b.live()
			}
		})
	}
}

func TestThePageOpensWithTheControllerGoneAndSaysSo(t *testing.T) {
	p := start(t, "60", "127.0.0.1:0")
	b := newTab(t, phone)
	b.open(p.url)
	b.live()
	asks[bool](b, `navigator.serviceWorker.ready.then(() => caches.open('page')).then(async c => {
		while ((await c.keys()).length < 15) await new Promise(r => setTimeout(r, 50))
		return true
	})`)
	at := asks[string](b, `document.getElementById('age').textContent`)
	require.Contains(t, at, "Live")
	p.kill()
	b.open(p.url)
	b.until(`document.documentElement.dataset.line === 'old'`)
	assert.Equal(t, "No contact with the controller", asks[string](b, `document.getElementById('word').textContent`))
	b.until(`!!document.querySelector('svg.section')`)
	b.picture("offline", false)
	asks[bool](b, `location.hash = '#diary', true`)
	b.until(`/Write it down/.test(document.querySelector('main').textContent)`)

	// It finds its way back by itself.
	address, err := url.Parse(p.url)
	require.NoError(t, err)
	start(t, "60", address.Host)
	b.live()
}
