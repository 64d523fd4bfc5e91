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
