//go:build pagetest

package pagetest

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/web/page"
)

// offered are the buttons that a person sees.
const offered = `[...document.querySelectorAll('main button, main .button')].filter(e => e.offsetParent).map(e => e.textContent)`

// A button that cannot act yet is not offered, on any sheet.
func TestNothingIsOfferedBeforeTheControllerHasAnswered(t *testing.T) {
	mux := http.NewServeMux()
	mux.HandleFunc("/api/v1/", func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() })
	mux.Handle("/", page.Handler())
	mute := httptest.NewServer(mux)
	t.Cleanup(func() {
		mute.CloseClientConnections()
		mute.Close()
	})
	source := axe(t)
	b := newTab(t, phone)
	for _, sheet := range []string{"now", "record", "diary"} {
		b.open(mute.URL + "/?" + sheet + "#" + sheet)
		b.until(`!!document.querySelector('nav a[aria-current]')`)
		assert.Equal(t, "Asking", asks[string](b, `document.getElementById('word').textContent`), sheet)
		assert.Empty(t, asks[[]string](b, offered), sheet)
		asks[any](b, source+`;0`)
		b.accessible("asking, " + sheet)
		b.picture("asking-"+sheet, false)
	}
}

func TestABatchThatIsClosedWaitsForNothingAndIsNotDrawn(t *testing.T) {
	b := newTab(t, phone)
	b.open(staged(t, cleared).url)
	b.live()
	b.until(`document.querySelectorAll('svg.section').length === 2`)
	south := `document.querySelectorAll('.benches .sheet')[1]`
	said := asks[string](b, south+`.textContent`)
	assert.Contains(t, said, "Parsley is closed; its last day was 10 May.")
	assert.NotContains(t, said, "waited too long")
	assert.Contains(t, said, "No flood today.")
	assert.Contains(t, said, "Automatic – no flood is planned")
	assert.Equal(t, 0, asks[int](b, south+`.querySelectorAll('.pot').length`))
	assert.Positive(t, asks[int](b, `document.querySelectorAll('.benches .sheet')[0].querySelectorAll('.pot').length`))
	assert.Equal(t, []string{"Flood now", "Pause"}, asks[[]string](b, `[...`+south+`.querySelectorAll('button')].filter(e => e.offsetParent).map(e => e.textContent)`), "there is none to skip")
}

// Where there is nobody to be told of anything, no act is about that, and no rule
// stands over nothing.
func TestNothingIsOfferedAboutMessagesWhereTheFileNamesNoWay(t *testing.T) {
	b := newTab(t, phone)
	b.open(staged(t).url + "#record")
	b.live()
	b.until(`/names no way to tell anybody/.test(document.querySelector('main').textContent)`)
	assert.True(t, asks[bool](b, `document.querySelector('[aria-labelledby=rm] .actions').offsetParent === null`))
}
