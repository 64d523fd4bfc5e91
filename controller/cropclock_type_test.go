package controller

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A crop that can wait 40 h, watered at 0: what is said when, by what is ahead.
func TestACropClockSaysWhenItsCropIsInDanger(t *testing.T) {
	const wait, hour = 40 * time.Hour, time.Hour
	inTime, after, none := end{wait, true}, end{wait + 1, true}, end{}
	for name, tt := range map[string]struct {
		clock cropClock
		ahead ahead
		now   time.Duration
		is    plight
		again time.Duration
	}{
		"the next flood is in time":            {cropClock{}, ahead{next: inTime, planned: inTime}, hour, fine, 0},
		"it is under way":                      {cropClock{}, ahead{busy: true, planned: after}, hour, fine, 0},
		"it may not start, in time":            {cropClock{}, ahead{busy: true, refused: true, planned: after}, hour, fine, 30 * hour},
		"it may not start, three quarters":     {cropClock{}, ahead{busy: true, refused: true, planned: after}, 30 * hour, runsOut, wait},
		"it may not start, for a short while":  {cropClock{}, ahead{busy: true, refused: true, since: 30 * hour, planned: after}, 30 * hour, fine, 31 * hour},
		"it may not start, short to the end":   {cropClock{}, ahead{busy: true, refused: true, since: wait, planned: after}, 30 * hour, fine, wait},
		"it may not start, and the time is up": {cropClock{}, ahead{busy: true, refused: true, planned: after}, wait, over, 0},
		"it is too late by a moment":           {cropClock{}, ahead{next: after, planned: after}, hour, tooRare, 30 * hour},
		"none is planned, early":               {cropClock{}, ahead{next: none, planned: none}, hour, fine, wait},
		"none is planned":                      {cropClock{}, ahead{next: none, planned: none}, wait, over, 0},
		"it is skipped, early":                 {cropClock{}, ahead{skips: true, next: after, planned: inTime}, hour, fine, 30 * hour},
		"it is skipped":                        {cropClock{}, ahead{skips: true, next: after, planned: inTime}, 30 * hour, skipped, wait},
		"it is skipped, and would be late":     {cropClock{}, ahead{skips: true, next: after, planned: after}, hour, tooRare, 30 * hour},
		"one was left out, early":              {cropClock{dry: true}, ahead{next: after, planned: after}, hour, fine, 30 * hour},
		"one did not count":                    {cropClock{trouble: true}, ahead{next: inTime, planned: inTime}, hour, unwatered, 30 * hour},
		"told, and the next is in time":        {cropClock{trouble: true, level: 1}, ahead{next: inTime, planned: inTime}, 30 * hour, fine, wait},
		"told, and it is held":                 {cropClock{trouble: true, level: 1}, ahead{held: true, next: inTime, planned: inTime}, 30 * hour, runsOut, wait},
		"told, in time, but in hot weather":    {cropClock{trouble: true, level: 1}, ahead{hot: true, next: inTime, planned: inTime}, 30 * hour, runsOut, wait},
		"told, not three quarters yet":         {cropClock{trouble: true, level: 1}, ahead{next: after, planned: after}, 30*hour - 1, fine, 30 * hour},
		"told, three quarters":                 {cropClock{trouble: true, level: 1}, ahead{next: after, planned: after}, 30 * hour, runsOut, wait},
		"told, all":                            {cropClock{trouble: true, level: 1}, ahead{next: after, planned: after}, wait, over, 0},
		"told twice, all, though on its way":   {cropClock{trouble: true, level: 2}, ahead{next: inTime, planned: inTime}, wait, over, 0},
		"told of all":                          {cropClock{trouble: true, level: 3}, ahead{next: after, planned: after}, 2 * wait, fine, 0},
		"one did not count, found out so late": {cropClock{trouble: true}, ahead{busy: true, planned: after}, wait, over, 0},
	} {
		k := tt.clock
		is, again := k.look(tt.now, wait, &tt.ahead)
		assert.Equal(t, tt.is, is, name)
		assert.Equal(t, tt.again, again, name)
		if tt.is != fine {
			is, _ = k.look(tt.now, wait, &tt.ahead)
			assert.Equal(t, fine, is, "%s: told once", name)
		}
	}
}

func TestACropClockCountsWhatWasMissedSinceItsLastFlood(t *testing.T) {
	for due, trouble := range map[time.Duration]bool{5*time.Hour - 1: false, 5 * time.Hour: true, 6 * time.Hour: true} {
		k := cropClock{since: 5 * time.Hour}
		k.missed(due)
		assert.Equal(t, trouble, k.trouble, due)
	}
	k := cropClock{trouble: true}
	k.since = time.Hour
	k.missed(0)
	assert.True(t, k.trouble, "an old one takes nothing back")
}

func TestACropClockAsksForACatchUpUnlessItIsWantedDry(t *testing.T) {
	const wait = 40 * time.Hour
	in, late := end{wait, true}, end{wait + 1, true}
	for _, tt := range []struct {
		clock cropClock
		next  end
		needs bool
	}{
		{cropClock{}, in, false},
		{cropClock{}, late, true},
		{cropClock{}, end{}, true},
		{cropClock{dry: true}, late, false},
		{cropClock{dry: true, trouble: true}, late, true},
		{cropClock{trouble: true}, in, false},
	} {
		assert.Equal(t, tt.needs, tt.clock.needsCatchUp(tt.next, wait), "%+v", tt)
	}
}

func TestACropClockReadsAsAFraction(t *testing.T) {
	k := cropClock{since: 10 * time.Hour}
	assert.Equal(t, 0.25, k.ratio(20*time.Hour, 40*time.Hour))
	assert.Zero(t, k.ratio(20*time.Hour, 0), "a stage without a limit")
	assert.True(t, k.serves(10*time.Hour, 50*time.Hour, 40*time.Hour))
	assert.False(t, k.serves(10*time.Hour+1, 50*time.Hour, 40*time.Hour))
	assert.False(t, k.serves(10*time.Hour, 50*time.Hour+1, 40*time.Hour))
}
