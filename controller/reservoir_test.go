package controller

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestAReservoirThatFallsBetweenFloodsIsToldOnce(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 10:00")
	r.run(time.Hour)
	told := func() (n int) {
		for _, m := range r.messages {
			if strings.HasPrefix(m, "today: tank: the low switch shows less than 140 L") {
				n++
			}
		}
		return n
	}
	r.tables[0].lowDry = true
	r.run(lowFor - time.Second)
	assert.Zero(t, told())
	r.run(2 * time.Second)
	assert.Equal(t, 1, told())
	r.run(5 * time.Hour)
	assert.Equal(t, 1, told())
	r.tables[0].lowDry = false
	r.run(time.Hour)
	r.tables[0].lowDry = true
	r.run(time.Hour)
	assert.Equal(t, 2, told(), "topped up, and low again")
}

func TestAReservoirWhoseWaterStandsOnATableIsNotLow(t *testing.T) {
	r := newRig(t, testSetup(1, 48*time.Hour, "09:00"), "2026-03-02 08:00")
	r.run(time.Hour + 2*time.Minute) // in the fill
	r.tables[0].lowDry = true
	r.run(20 * time.Minute)
	r.tables[0].lowDry = false
	r.run(time.Hour)
	assert.Equal(t, Proven, r.rows()[0].Outcome)
	assert.Empty(t, r.messages)
}

func TestALowReservoirIsToldOfWhicheverItIs(t *testing.T) {
	told := func(r *rig) []int { return []int{r.told("low-tank"), r.told("low-cistern")} }
	r := newRig(t, apart(testSetup(3, 48*time.Hour, "09:00")), "2026-03-02 12:00")
	r.run(time.Hour)
	r.tables[2].lowDry = true
	r.run(5 * time.Minute)
	assert.Equal(t, []int{0, 1}, told(r))
	r.tables[0].lowDry = true
	r.run(30 * time.Second)
	r.tables[2].lowDry = false
	r.run(20 * time.Second)
	r.tables[2].lowDry = true
	r.run(30 * time.Second)
	assert.Equal(t, []int{1, 1}, told(r))
	r.run(5 * time.Minute)
	assert.Equal(t, []int{1, 2}, told(r), "the second once more, though the first is known to be low")
}

func TestTheOtherReservoirsWaterIsNoReasonToWait(t *testing.T) {
	r := newRig(t, apart(eachSetup(48*time.Hour, []string{"15:00"}, []string{"09:00"})), "2026-03-02 08:00")
	r.until("2026-03-02 09:05:00") // water stands on south, from the cistern
	r.tables[0].lowDry = true
	r.run(2 * time.Minute)
	assert.Equal(t, 1, r.told("low-tank"))
	r.tables[1].lowDry = true
	r.run(2 * time.Minute)
	assert.Zero(t, r.told("low-cistern"), "what is missing stands on the table")
}
