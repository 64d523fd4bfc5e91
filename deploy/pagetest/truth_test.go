//go:build pagetest

package pagetest

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/controller/texts/plain"
	"benchtide/safety"
)

const mainsFirst = "Switch off at the mains first, with dry hands."

// States in which the page once said what was not so.
func welded(s *live.Status) {
	const detail = `the pump relay of bench "north" is welded: pull the plug and replace the relay`
	s.Benches[0].Weld = true
	s.Benches[0].Latched = []live.LatchedTrip{{At: *at("13:29:41"), Interlock: "drain-window", Words: "Does not drain", Detail: "FULL has not cleared 3 min after the pump stopped"}}
	s.Benches[1].Latched = []live.LatchedTrip{{At: *at("13:33:00"), Interlock: "drain-window", Words: controller.Welded.Words, Detail: detail}}
}

func wetFloor(s *live.Status) {
	s.Benches[0].Latched = []live.LatchedTrip{{At: *at("13:20:00"), Interlock: "leak", Words: "Water on the floor", Detail: `the floor sensor of bench "north" shows water or its wire is open`}}
}

func stateLost(s *live.Status) {
	s.Benches[0].Latched = []live.LatchedTrip{{At: *at("13:00:00"), Interlock: "state-lost", Words: "The record of this bench was lost", Detail: "what was kept of it cannot be read"}}
}

func losesWater(s *live.Status) {
	s.Benches[0].Latched = []live.LatchedTrip{{At: *at("13:00:00"), Interlock: "lost-water", Words: "Water is being lost", Detail: "38 L more than the plants can have drunk went in the last 2 floods, since Tue 19 May 11:00"}}
}

func neighbour(s *live.Status) {
	filling(s)
	s.Benches[1].Refusal = &live.Refusal{Interlock: "reservoir-low", Words: "Too little water", Detail: `the water of bench "north" is not back in reservoir "tank"`}
}

func outOfWater(s *live.Status) {
	for i := range s.Benches {
		s.Benches[i].Refusal = &live.Refusal{Interlock: "reservoir-low", Words: "Too little water", Detail: `reservoir "tank" is too low: a flood of bench "` + s.Benches[i].Name + `" needs 117 L above the 20 L kept`}
	}
	s.Reservoirs[0].Low, s.Reservoirs[0].Litres, s.Reservoirs[0].Basis, s.Reservoirs[0].Span, s.Reservoirs[0].Words = "dry", 0, "unknown", nil, "not known since 09:02"
}

func reckoned(s *live.Status) {
	r := &s.Reservoirs[0]
	r.Low, r.Basis, r.Litres, r.Words = "absent", "expected", 163, "163 L expected, between 150 and 176 L, from what was known Tue 12 May 09:00"
}

func unknownTank(s *live.Status) {
	r := &s.Reservoirs[0]
	r.Low, r.Basis, r.Litres, r.Span, r.Words = "absent", "unknown", 0, nil, "not known since Tue 12 May 09:00; it last held 320 L, Tue 12 May 09:00"
}

func failedSince(s *live.Status) {
	last := flood(90, "north", "13:20:00", controller.Refused, "reservoir-low: too low")
	s.Benches[0].Last = &last
	none := flood(91, "south", "13:20:00", controller.Unproven, "FULL was never made")
	s.Benches[1].Last, s.Benches[1].LastProven = &none, nil
}

func texts(b *tab, of string) string {
	return asks[string](b, `document.querySelector('`+of+`').textContent`)
}

func TestThePageSaysWhatIsSo(t *testing.T) {
	none, half, seven := 0.0, 0.4, 7.2
	for _, c := range []struct {
		name   string
		change func(*live.Status)
		supply func(*live.Supply)
		state  string
		says   map[string]string // by place
		never  map[string]string
	}{
		{"welded", welded, nil, "now", map[string]string{".reason": mainsFirst + " north: a pump relay is welded", ".glance": "None until you reset"}, map[string]string{".state": "drain-window", ".more": "south"}},
		{"wet floor", wetFloor, nil, "now", map[string]string{".reason": mainsFirst + " north: water on the floor", ".glance": "14:00 today will not run"}, nil},
		{"record lost", stateLost, nil, "now", map[string]string{".reason": "the record of this bench was lost"}, map[string]string{".board": "state-lost"}},
		{"losing water", losesWater, nil, "now", map[string]string{".reason": mainsFirst + " north: water is being lost"}, map[string]string{".board": "lost-water"}},
		{"high water", tripped, nil, "now", map[string]string{".reason": mainsFirst + " north: water too high"}, map[string]string{".state": "drain-window"}},
		{"a neighbour floods", neighbour, nil, "no", map[string]string{".state": "All in order"}, map[string]string{".reason": "south: a flood"}},
		{"hands in", handsIn, nil, "hands", map[string]string{".state": "Hands in", ".reason": "Nothing starts."}, nil},
		{"hands in over a trip", func(s *live.Status) { handsIn(s); tripped(s) }, nil, "now", nil, nil},
		{"sanitising", sanitising, nil, "no", nil, nil},
		{"no water", outOfWater, func(s *live.Supply) { s.Days, s.DaysHottest, s.FullDays, s.AtLeast = &none, &none, &seven, true }, "today", map[string]string{".glance": "Too little for a flood"}, map[string]string{".glance": "0 to 7"}},
		{"a reckoned tank", reckoned, nil, "no", map[string]string{".section": "expected 163 L"}, map[string]string{".section": "at least"}},
		{"an unknown tank", unknownTank, func(s *live.Supply) { s.Days, s.DaysHottest, s.FullDays, s.AtLeast = &none, &none, &seven, true }, "no", map[string]string{".glance": "Not known", ".section": "not known"}, map[string]string{".glance": "0 to 7", ".section": "at least"}},
		{"less than a day", func(*live.Status) {}, func(s *live.Supply) { s.Days, s.DaysHottest = &half, &half }, "no", map[string]string{".glance": "Less than a day"}, nil},
		{"failed since", failedSince, nil, "today", map[string]string{".glance": "None proven"}, map[string]string{".glance b": "13:20"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			site := staged(t, c.change)
			if c.supply != nil {
				c.supply(&site.supply)
			}
			for _, s := range []screen{phone, desktop} {
				b := newTab(t, s)
				b.open(site.url)
				b.live()
				b.until(`!!document.querySelector('svg.section') && document.querySelector('.glance').textContent !== ''`)
				assert.Equal(t, c.state, asks[string](b, `document.querySelector('.board').dataset.state`))
				for of, words := range c.says {
					assert.Contains(t, texts(b, of), words)
				}
				for of, words := range c.never {
					assert.NotContains(t, texts(b, of), words)
				}
				for _, said := range asks[[]string](b, `document.body.innerText.split('\n').concat([...document.querySelectorAll('.section text')].map(n => n.textContent))`) {
					assert.Empty(t, plain.Faults(said, codes(), nil))
				}
				b.picture("state-"+c.name+"-"+s.name, false)
			}
		})
	}
}

// codes are names for programs that nobody reads on the page.
func codes() (all []string) {
	for _, i := range safety.Interlocks {
		all = append(all, string(i))
	}
	return all
}

// A flood that did not count wets no pot, and none to come does where the bench is
// locked: the curve only falls.
func TestTheCurveOfThePotsRisesOnlyAtFloodsThatCount(t *testing.T) {
	ups := func(change func(*live.Status)) int {
		b := newTab(t, desktop)
		b.open(staged(t, change).url)
		b.live()
		b.until(`!!document.querySelector('.course .normal')`)
		return asks[int](b, `document.querySelector('.course .normal').getAttribute('d').slice(1).split('L').map(p => +p.split(' ')[1]).filter((y, i, all) => i && y < all[i - 1] - 1).length`)
	}
	calm := ups(func(*live.Status) {})
	locked := ups(tripped)
	assert.Greater(t, calm, 5)
	assert.LessOrEqual(t, locked, 1, "at most the one that counted this morning")
}

// What is weighed is drawn otherwise than what is only reckoned, and what nobody
// knows is drawn as no water at all.
func TestAReckonedTankIsDrawnOtherwise(t *testing.T) {
	drawn := map[string]bool{}
	for _, change := range []func(*live.Status){func(*live.Status) {}, reckoned, unknownTank} {
		b := newTab(t, desktop)
		b.open(staged(t, change).url)
		b.live()
		b.until(`!!document.querySelector('svg.section rect.level[data-is]')`)
		look := asks[string](b, `(s => s.opacity + ' ' + s.strokeDasharray)(getComputedStyle(document.querySelector('svg.section rect.level')))`)
		assert.False(t, drawn[look], look)
		drawn[look] = true
	}
}
