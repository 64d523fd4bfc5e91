//go:build pagetest

package pagetest

import (
	"regexp"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
)

// metric is a quantity in metric units, as the page would say it.
var metric = regexp.MustCompile(`\d ?(mm|cm|m|L|mL|L/h|°C|kg)\b|\b[Ll]itres?\b`)

// astride finds the measures beside the section of a bench that touch its walls or
// reach beyond the drawing.
const astride = `(() => {
	const drawing = document.querySelector('.section'), table = drawing.querySelector('clipPath rect')
	const left = +table.getAttribute('x') - 5, right = left + 10 + +table.getAttribute('width')
	return [...drawing.querySelectorAll('.label')].filter(l => {
		const b = l.getBBox()
		return b.x < 0 || b.x + b.width > +drawing.getAttribute('width') || b.x + b.width > left && b.x < right
	}).map(l => l.textContent)
})()`

// A site of US units is read in them, and what people write down may have any unit.
func TestAUSSiteIsReadAndWrittenInUSUnits(t *testing.T) {
	t.Parallel()
	p := start(t, "60", "127.0.0.1:0", "-c", "../../testdata/configs/us.yaml")
	b := newTab(t, desktop)
	b.open(p.url)
	b.live()
	b.until(`/FULL 1 1\/16/.test(document.querySelector('.drawing').textContent)`)
	b.until(`/gal/.test(document.querySelector('.glance').textContent)`)
	all := asks[string](b, `document.body.innerText`) + asks[string](b, `document.querySelector('.drawing').textContent`)
	assert.Empty(t, metric.FindAllString(all, -1), all)
	assert.Contains(t, all, "8 ft long")
	b.picture("us-now", true)
	for _, wide := range []screen{desktop, phone} {
		at := newTab(t, wide)
		at.open(p.url)
		at.live()
		at.until(`document.querySelectorAll('.section .label').length > 3`)
		assert.Empty(t, asks[[]string](at, astride), "measures that lie on a wall, or beyond the drawing")
	}

	b.open(p.url + "#diary")
	b.live()
	for _, w := range []struct{ written, read string }{{"20", "20 gal"}, {"1 1/2 gal", "1.5 gal"}, {"15 L", "4 gal"}} {
		b.presses("Top-up")
		b.does(chromedp.SetValue(chromedp.CSS(`.form input[name=value]`), w.written))
		b.presses("Write it down")
		b.until(`document.querySelector('.list').textContent.includes('Top up ` + w.read + `, tank')`)
	}
	assert.Empty(t, metric.FindAllString(asks[string](b, `document.body.innerText`), -1))
	b.picture("us-diary", true)

	b.open(p.url + "#record")
	b.until(`document.querySelectorAll('.chart').length === 3`)
	assert.Empty(t, metric.FindAllString(asks[string](b, `document.body.innerText`), -1))
	b.picture("us-record", true)
}
