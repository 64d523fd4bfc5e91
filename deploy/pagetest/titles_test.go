//go:build pagetest

package pagetest

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/live"
)

// scripts are words for titles, longer than the 60 letters that are taken of them.
var scripts = map[string]string{
	"latin":      "Anzuchttischbewässerungsversuchsfläche an der Nordwand neben der Gewächshaustür",
	"cyrillic":   "Длинный стол для рассады базилика у северной стены школьной теплицы рядом с дверью",
	"arabic":     "طاولة الري الطويلة عند الجدار الشمالي للبيت الزجاجي المدرسي بجانب الباب الكبير القديم",
	"devanagari": "विद्यालय के पौधाघर की उत्तरी दीवार के पास तुलसी के पौधों की लंबी मेज़ जो दरवाज़े के बगल में है",
	"cjk":        "学校の温室の北側の壁に沿って置かれたバジルの苗のための長い給水台で扉のとなりにあり毎朝九時に水が満ちてからゆっくりと引いていく",
}

// entitled gives everything on stage a title of 60 letters, each with its number.
func entitled(words string) live.Facts {
	f, n := drawings(), 0
	title := func() string {
		n++
		return fmt.Sprintf("%s %d", string([]rune(words)[:58]), n)
	}
	for i := range f.Benches {
		f.Benches[i].Title = title()
	}
	for i := range f.Reservoirs {
		f.Reservoirs[i].Title = title()
	}
	for i := range f.Batches {
		f.Batches[i].Title, f.Batches[i].PlanTitle = title(), title()
	}
	return f
}

// cut finds texts that do not fit their element and are not shown whole by scrolling,
// and those of drawings that reach beyond them.
const cut = `[...document.querySelectorAll('main *, header *, nav *, footer *')].filter(e => {
	const r = e.getBoundingClientRect(), style = getComputedStyle(e)
	if (!r.width || style.clipPath !== 'none' || style.clip !== 'auto' || e.tagName === 'SELECT' || e.tagName === 'OPTION') return false
	if (e.tagName === 'text') {
		const d = e.closest('svg').getBoundingClientRect()
		return r.left < d.left - 1 || r.right > d.right + 1
	}
	return !e.children.length && (e.scrollWidth > e.clientWidth + 1 && style.display !== 'inline' && style.overflowX !== 'visible' || r.right > innerWidth + 1 || r.left < -1)
}).map(e => e.outerHTML)`

// A long title in any script neither widens the page of a small phone nor is cut.
func TestALongTitleFitsASmallPhoneInAnyScript(t *testing.T) {
	source := axe(t)
	for name, words := range scripts {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			newTab(t, screen{"360 px", 360, 740, false}).looksAt(source, name, entitled(words))
		})
	}
}

// looksAt goes through the views of a site with a batch that waited too long for its
// flood and a bench that is locked.
func (b *tab) looksAt(source, script string, facts live.Facts) {
	b.open(stagedAs(b.t, facts, tripped, thirsty).url)
	b.live()
	b.until(`!!document.querySelector('svg.section')`)
	b.whole(source, script, "now")
	assert.Contains(b.t, asks[string](b, `document.body.textContent`), facts.Benches[0].Title)
	for view, ready := range map[string]string{"record": `document.querySelectorAll('.chart').length === 3`, "diary": `!!document.querySelector('.list li')`} {
		asks[bool](b, fmt.Sprintf(`location.hash = '#%s', true`, view))
		b.until(ready)
		asks[bool](b, `document.querySelectorAll('details').forEach(d => d.open = true), true`)
		b.whole(source, script, view)
	}
	asks[bool](b, `location.hash = '#now', true`)
	b.presses("Pause")
	b.whole(source, script, "form")
}

// whole sees to it that a view is accessible and that no text of it is cut.
func (b *tab) whole(source, script, view string) {
	b.t.Helper()
	asks[any](b, source+`;0`)
	b.accessible(script + ", " + view)
	assert.Empty(b.t, asks[[]string](b, cut), "%s, %s: cut", script, view)
	b.picture("titles-"+script+"-"+view, true)
}
