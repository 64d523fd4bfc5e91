package schedule

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAfterDoesNotAllocateOnceWarm(t *testing.T) {
	c, start := yearCalendar(t)
	after := start.At(0)
	step := func() {
		p, _ := c.After(0, after)
		after = p.Slot.Local
	}
	for range 1000 {
		step()
	}
	assert.Zero(t, testing.AllocsPerRun(1000, step))
}

func yearCalendar(t testing.TB) (*Calendar, Date) {
	z := zone(t, "Europe/Dublin")
	start := date(t, "2026-01-01")
	return mustCalendar(t, Setup{Zone: z, Light: Sun{53.2, -7.1, z}, Benches: 1,
		Plans:   []Plan{basil(t), always("spread", Stage{Spread: 3})},
		Batches: []Batch{{Name: "old", Transplanted: start}, {Name: "young", Plan: 1, Transplanted: start.AddDays(60)}}}), start
}

// BenchmarkAfterYear asks for every slot of a year, one after the other.
func BenchmarkAfterYear(b *testing.B) {
	c, start := yearCalendar(b)
	for b.Loop() {
		for after, end := start.At(0), start.AddDays(365).At(0); after < end; {
			p, ok := c.After(0, after)
			if !ok {
				b.Fatal("the year has an end")
			}
			after = p.Slot.Local
		}
	}
}

// BenchmarkAfterSameDay asks for slots of a day that is at hand.
func BenchmarkAfterSameDay(b *testing.B) {
	c, start := yearCalendar(b)
	d := start.AddDays(40)
	times := at(b, "07:00", "09:00", "12:00", "15:00")
	for i := 0; b.Loop(); i++ {
		c.After(0, d.At(times[i%len(times)]))
	}
}

// BenchmarkAfterSameAnswer asks again before the next slot has come.
func BenchmarkAfterSameAnswer(b *testing.B) {
	c, start := yearCalendar(b)
	after := start.AddDays(40).At(9 * 3600)
	for b.Loop() {
		c.After(0, after)
	}
}
