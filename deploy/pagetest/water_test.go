//go:build pagetest

package pagetest

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/live"
)

// heard is a stage that hears words on water.
type heard struct{ said []string }

// TookOut hears that the water was taken out.
func (s *stage) TookOut(_ context.Context, reservoir int, shown float64, _ string) (live.Explained, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	u := s.status.Reservoirs[reservoir].Missing
	s.heard.said = append(s.heard.said, fmt.Sprintf("took out %v", shown))
	first := u.Answer == ""
	u.Answer = "taken-out"
	return live.Explained{Unexplained: *u, First: first}, nil
}

// ToppedUp hears whether it was poured in.
func (s *stage) ToppedUp(_ context.Context, reservoir int, poured bool, shown float64, _ string) (live.Explained, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	u := s.status.Reservoirs[reservoir].Came
	s.heard.said = append(s.heard.said, fmt.Sprintf("poured %t %v", poured, shown))
	u.Answer = map[bool]string{true: "poured", false: "nobody"}[poured]
	return live.Explained{Unexplained: *u, First: true}, nil
}

func (s *stage) words() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.heard.said
}

func losing(st *live.Status) {
	north := "north"
	st.Reservoirs[0].Missing = &live.Unexplained{Litres: 22.3, Bench: &north, From: *at("08:00:00"), At: *at("11:00:00")}
}

func filled(st *live.Status) {
	st.Reservoirs[0].Came = &live.Unexplained{Litres: 44, From: *at("08:00:00"), At: *at("11:00:00")}
}

func unknown(st *live.Status) {
	r := &st.Reservoirs[0]
	r.Low, r.Litres, r.Basis, r.At, r.Span = "absent", 0, "unknown", at("09:00:00"), nil
	r.LastKnown = &live.KnownWater{Litres: 300, At: *at("08:00:00")}
	r.Words = "not known since 09:00; it last held 300 L, 08:00"
}

func TestWaterThatIsLostIsToldOfAndTakenOutByOneTouch(t *testing.T) {
	t.Parallel()
	for _, on := range []screen{phone, desktop} {
		s := staged(t, losing)
		b := newTab(t, on)
		b.open(s.url)
		b.live()
		b.until(`/22 L are missing from tank/.test(document.querySelector('.waters').textContent)`)
		assert.Equal(t, "today", asks[string](b, `document.querySelector('.board').dataset.state`))
		b.picture(fmt.Sprintf("water-lost-%d", on.width), true)
		b.presses("I took it out")
		b.presses("I took it out") // in a hurry
		b.until(`/Books 22 L as taken out/.test(document.querySelector('.waters').textContent)`)
		b.until(`/booked as taken out of tank/.test(document.querySelector('.waters').textContent)`)
		assert.Equal(t, []string{"took out 22.3"}, s.words(), "a double touch is one")
		b.picture(fmt.Sprintf("water-booked-%d", on.width), true)
	}
}

func TestWaterThatCameIsAskedAbout(t *testing.T) {
	t.Parallel()
	s := staged(t, filled)
	b := newTab(t, phone)
	b.open(s.url)
	b.live()
	b.until(`/44 L came into tank/.test(document.querySelector('.waters').textContent)`)
	assert.Equal(t, "no", asks[string](b, `document.querySelector('.board').dataset.state`), "a top-up is no alarm")
	b.picture("water-came", true)
	b.presses("Nobody poured")
	b.until(`/not booked as a top-up/.test(document.querySelector('.waters').textContent)`)
	b.presses("Somebody poured them in")
	b.until(`/are booked as a top-up/.test(document.querySelector('.waters .answer').textContent)`)
	assert.Equal(t, []string{"poured false 44", "poured true 44"}, s.words())
}

func TestLitresSayWhatTheyRestOn(t *testing.T) {
	t.Parallel()
	const glance = `document.querySelector('.glance').textContent`
	b := newTab(t, phone)
	b.open(staged(t).url)
	b.live()
	b.until(`/240 L, weighed 11:00, between 237 and 243 L/.test(` + glance + `)`)
	assert.NotContains(t, asks[string](b, glance), "t least")
	assert.True(t, asks[bool](b, `[...document.querySelectorAll('.drawing text')].some(t => t.textContent === '240 L')`))

	b.open(staged(t, unknown).url)
	b.live()
	b.until(`/not known since 09:00; it last held 300 L, 08:00/.test(` + glance + `)`)
	assert.NotContains(t, asks[string](b, glance), "t least")
	assert.True(t, asks[bool](b, `[...document.querySelectorAll('.drawing text')].some(t => t.textContent === 'not known')`))
	b.picture("water-unknown", true)
}
