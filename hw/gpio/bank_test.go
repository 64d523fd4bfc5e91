package gpio

import (
	"bytes"
	"fmt"
	"log/slog"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/hw/lines"
	"benchtide/safety"
)

func TestReadingsAreTimedAndRaw(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	r.set("GPIO24", false) // contact closed by water
	r.set("GPIO25", false) // contact closed: no water at HIGH
	r.set("GPIO23", true)
	res := readings()
	b.Read(at(7*time.Second), res)
	assert.Equal(t, safety.Reading{Level: safety.Wet, At: 7 * time.Second}, res.Benches[0].Full)
	assert.Equal(t, safety.Reading{Level: safety.Dry, At: 7 * time.Second}, res.Benches[0].High)
	assert.Equal(t, safety.Reading{Level: safety.Dry, At: 7 * time.Second}, res.Reservoirs[0].Low)
	assert.Zero(t, res.Benches[0].Empty, "a switch that is not fitted is absent")
	assert.Zero(t, res.HandsIn)
}

func TestEachSwitchIsReadIntoItsOwnPlace(t *testing.T) {
	r := newRig(t)
	line := func(n int) Switch { return Switch{Line: lines.Named(fmt.Sprintf("GPIO%d", n)), WaterCloses: true} }
	b := r.open(Config{
		Benches:    []Bench{{}, {Full: line(1), High: line(2), Empty: line(3), Leak: line(4)}},
		Reservoirs: []Reservoir{{}, {Low: line(5)}},
		HandsIn:    line(6),
	})
	res := &safety.Readings{Benches: make([]safety.BenchReadings, 2), Reservoirs: make([]safety.ReservoirReadings, 2)}
	north := &res.Benches[1]
	places := []*safety.Reading{&north.Full, &north.High, &north.Empty, &north.Leak, &res.Reservoirs[1].Low, &res.HandsIn}
	for wet := range places {
		for i := range places {
			r.set(fmt.Sprintf("GPIO%d", i+1), i != wet)
		}
		b.Read(at(1), res)
		for i, p := range places {
			assert.Equal(t, i == wet, p.Level == safety.Wet, "switch %d while %d is wet", i, wet)
		}
	}
	assert.Zero(t, res.Benches[0])
}

func TestUnreadableSwitchFaultsAndKeepsItsLastGoodTime(t *testing.T) {
	var log bytes.Buffer
	c := site()
	c.Log = slog.New(slog.NewTextHandler(&log, nil))
	r := newRig(t)
	b := r.open(c)
	res := readings()
	b.Read(at(time.Second), res)
	r.took()

	r.fail = failing("GPIO25")
	b.Read(at(2*time.Second), res)
	b.Read(at(3*time.Second), res)
	assert.Equal(t, safety.Reading{Level: safety.Fault, At: time.Second}, res.Benches[0].High)
	assert.Equal(t, 1, strings.Count(log.String(), "cannot be read"), "told once, not every turn")

	r.fail = nil
	b.Read(at(4*time.Second), res)
	assert.Equal(t, safety.Reading{Level: safety.Wet, At: 4 * time.Second}, res.Benches[0].High)
	assert.Equal(t, 1, strings.Count(log.String(), "can be read again"))
	assert.Contains(t, r.took(), "claim GPIO25", "the bank was claimed anew")
}

func TestContactMeaning(t *testing.T) {
	for _, tt := range []struct {
		pull                Pull
		waterCloses, closed bool
		want                safety.Level
	}{
		{PullUp, true, true, safety.Wet},
		{PullUp, true, false, safety.Dry},
		{PullUp, false, true, safety.Dry},
		{PullUp, false, false, safety.Wet},
		{PullDown, true, true, safety.Wet},
		{PullDown, true, false, safety.Dry},
		{PullDown, false, true, safety.Dry},
		{PullDown, false, false, safety.Wet},
		{PullNone, true, true, safety.Wet},
		{PullNone, false, true, safety.Dry},
	} {
		t.Run(fmt.Sprintf("%+v", tt), func(t *testing.T) {
			r := newRig(t)
			b := r.open(Config{HandsIn: Switch{Line: lines.Named("GPIO4"), WaterCloses: tt.waterCloses, Pull: tt.pull}})
			r.set("GPIO4", tt.closed == (tt.pull == PullDown))
			var res safety.Readings
			b.Read(at(1), &res)
			assert.Equal(t, tt.want, res.HandsIn.Level)
		})
	}
}

// With no wire the pull alone decides the level.
func TestBrokenWireReadsAsAnOpenContact(t *testing.T) {
	for _, pull := range []Pull{PullUp, PullDown} {
		for _, waterCloses := range []bool{true, false} {
			t.Run(fmt.Sprintf("pull %d, water closes %t", pull, waterCloses), func(t *testing.T) {
				b := newRig(t).open(Config{HandsIn: Switch{Line: lines.Named("GPIO4"), WaterCloses: waterCloses, Pull: pull}})
				var res safety.Readings
				b.Read(at(1), &res)
				want := safety.Dry
				if !waterCloses {
					want = safety.Wet
				}
				assert.Equal(t, want, res.HandsIn.Level)
			})
		}
	}
}

func TestSwitchesOfAChipShareARequestUpToItsSize(t *testing.T) {
	r := newRig(t)
	r.addChip(chip{device: "/dev/gpiochip1", label: "wide", own: true})
	c := Config{HandsIn: Switch{Line: lines.Named("GPIO4")}}
	for i := range maxLines + 1 {
		name := fmt.Sprintf("X%d", i)
		r.addPin(name, i)
		c.Reservoirs = append(c.Reservoirs, Reservoir{Low: Switch{Line: lines.Named(name), WaterCloses: true}})
	}
	b := r.open(c)
	assert.Len(t, r.claims, 3)
	res := &safety.Readings{Reservoirs: make([]safety.ReservoirReadings, maxLines+1)}
	r.set("X3", false)
	r.set("X64", false)
	b.Read(at(1), res)
	for i, got := range res.Reservoirs {
		want := safety.Dry
		if i == 3 || i == 64 {
			want = safety.Wet
		}
		assert.Equal(t, want, got.Low.Level, i)
	}
}

func TestSwitchTakenAfterTheLookIsRefusedWithItsHolder(t *testing.T) {
	r := newRig(t)
	r.fail = func(op, line string) error {
		if op == "request" && line == "GPIO25" {
			r.holders[lineID{"/dev/gpiochip0", 25}] = lineInfo{used: true, consumer: "fan"}
		}
		return nil
	}
	_, err := openOn(r.host(), site())
	require.ErrorContains(t, err, `claim the switch lines GPIO24, GPIO25, GPIO23: it is held by "fan"`)
	require.ErrorIs(t, err, syscall.EBUSY)
	assert.Empty(t, r.claims)
}
