//go:build pagetest

package pagetest

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"
)

// The pictures of the README: the built-in example in mid-flood, as a phone and
// as a desk show it, and a month of records from the stage.
func TestPicturesOfTheReadme(t *testing.T) {
	if os.Getenv("PICTURES") == "" {
		t.Skip("no PICTURES=DIR to keep them in")
	}
	p := start(t, "30", "127.0.0.1:0")
	hand, desk := newTab(t, night), newTab(t, desktop)
	for _, b := range []*tab{hand, desk} {
		b.open(p.url)
		b.live()
	}
	hand.until(fullBall + `.dataset.is === 'wet'`)
	hand.does(chromedp.Sleep(3e9)) // the water comes to its place
	hand.picture("page-phone", false)
	desk.until(`/proven/.test(document.querySelector('.glance').textContent)`)
	desk.picture("page-desktop", false)
	site := staged(t, holding)
	desk.open(site.url + "#record")
	desk.until(`document.querySelectorAll('.chart').length === 3`)
	desk.picture("page-record", false)
}
