package ledger

import (
	"bytes"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestPartsComeBackWholeWhateverTheyHold(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"", "{}", `{"controller":{},"guard":{"latched":[]}}`, "ein Blatt im Überlauf\x00\xff", strings.Repeat("0123456789", 100_000)} {
		back, err := inflatePart(deflatePart(text))
		require.NoError(t, err)
		assert.Equal(t, text, back)
	}
	whole := deflatePart(`{"guard":{"latched":[{"interlock":"drain-window"}]}}`)
	for cut := range len(whole) {
		if _, err := inflatePart(whole[:cut]); err == nil {
			t.Errorf("a part cut to %d bytes counts as one", cut)
		}
	}
	_, err := inflatePart(deflatePart(strings.Repeat("x", largestPart+1)))
	assert.Error(t, err, "what is too large is no part")
}

func FuzzPart(f *testing.F) {
	f.Add([]byte{})
	f.Add(deflatePart(`{"controller":{"boot":"boot"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if text, err := inflatePart(data); err == nil {
			back, err := inflatePart(deflatePart(text))
			require.NoError(t, err)
			require.Equal(t, text, back)
		}
	})
}

func TestAllPartsOfASmallSiteFitTwoPages(t *testing.T) {
	t.Parallel()
	s := newSite(t, "2026-04-10 00:30")
	l, _ := open(t, t.TempDir(), s.options())
	s.begin(&paced{Ledger: l, t: t, world: s.world}, nil, "boot")
	s.run(48 * time.Hour)
	sum := 0
	for part, text := range l.store.stored {
		packed := deflatePart(text)
		assert.Less(t, len(packed), 460, "%s has %d bytes", part, len(text)) // in a page of 512 beside its key and sum
		assert.False(t, bytes.Contains(packed, []byte(text)))
		sum += len(packed)
	}
	assert.Less(t, sum, 900)
}

func TestWhatTheGuardMustNotForgetIsOnStorageAtOnce(t *testing.T) {
	t.Parallel()
	under := safety.State{Benches: map[string]safety.BenchState{"north": {Running: true, Runs: []safety.Span{{Start: 1, Stop: 1}}}}}
	with := func(change func(*safety.BenchState)) safety.State {
		s := under.Benches["north"]
		s.Runs = append([]safety.Span{}, s.Runs...)
		change(&s)
		return safety.State{Mono: 9, Benches: map[string]safety.BenchState{"north": s}}
	}
	ended := func(s *safety.BenchState) { s.Running, s.Runs[0].Stop = false, 5 }
	for name, c := range map[string]struct {
		now safety.State
		may bool
	}{
		"nothing but the moment":   {with(func(*safety.BenchState) {}), true},
		"a run has ended":          {with(ended), true},
		"what is learnt":           {with(func(s *safety.BenchState) { s.Learnt[0] = 7 }), true},
		"ended, and latched":       {with(func(s *safety.BenchState) { ended(s); s.Latched = []safety.Trip{{Interlock: safety.LeakFound}} }), false},
		"ended, and to be at home": {with(func(s *safety.BenchState) { ended(s); s.Homing = true }), false},
		"ended, and a next one":    {with(func(s *safety.BenchState) { ended(s); s.Runs = append(s.Runs, safety.Span{Start: 6}) }), false},
		"it began at another time": {with(func(s *safety.BenchState) { ended(s); s.Runs[0].Start = 0 }), false},
		"a run that is no longer":  {with(func(s *safety.BenchState) { s.Running, s.Runs = false, nil }), false},
		"a reset":                  {with(func(s *safety.BenchState) { s.Resets++ }), false},
		"a retry":                  {with(func(s *safety.BenchState) { s.Retried = true }), false},
		"a bench more":             {safety.State{Benches: map[string]safety.BenchState{"north": under.Benches["north"], "south": {}}}, false},
		"a bench less":             {safety.State{}, false},
		"hands are in":             {safety.State{HandsIn: true, Benches: under.Benches}, false},
	} {
		assert.Equal(t, c.may, mayWait(&under, &c.now), name)
	}
	idle := with(ended)
	assert.False(t, mayWait(&idle, &under), "a run that begins")
}

// A deflater writes as a new one does however much it wrote before, and makes its
// tables once.
func TestPartsAreDeflatedAlikeHoweverManyWereBefore(t *testing.T) {
	var d deflater
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for i := range 100 {
		part := fmt.Sprintf(`{"controller":{"boot":"boot %d"}}`, i)
		d.part(strings.Repeat(part, 10))
		packed := d.part(part)
		if i%20 == 0 {
			assert.Equal(t, deflatePart(part), packed)
		}
	}
	runtime.ReadMemStats(&after)
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(20<<20))
}
