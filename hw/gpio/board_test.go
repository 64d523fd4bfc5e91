package gpio

import (
	"bytes"
	"fmt"
	"log/slog"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/safety"
)

func TestOutputsAreClaimedOffAndEnableFirst(t *testing.T) {
	r := newRig(t)
	r.open(site())
	assert.Equal(t, []string{
		"claim GPIO22 low", // enable
		"claim GPIO5 high", // pumps, energised by low
		"claim GPIO6 high",
		"claim GPIO13 low", // air
		"claim GPIO24", "claim GPIO25", "claim GPIO23",
	}, r.took())
}

// A line that is pulled up, behind a relay that energises on low, must not see
// a low before it is driven high.
func TestFirstLevelOfALineIsItsOffLevelAndNothingElse(t *testing.T) {
	for _, energiseHigh := range []bool{false, true} {
		t.Run("off is "+word(!energiseHigh), func(t *testing.T) {
			r := newRig(t)
			b := r.open(Config{Outputs: []Output{{Name: "p", Line: "GPIO5", EnergiseHigh: energiseHigh, Kind: safety.FloodPump}}})
			b.Read(at(refresh), readings())
			require.NoError(t, b.Apply(safety.Command{}))
			assert.Equal(t, []string{"claim GPIO5 " + word(!energiseHigh), "GPIO5 " + word(!energiseHigh)}, r.took())
		})
	}
}

func TestEnableNeitherMakesNorBreaksALoad(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	r.took()

	require.NoError(t, b.Apply(command(pump, enable, air)))
	assert.Equal(t, []string{"GPIO22 high", "GPIO5 low", "GPIO13 high"}, r.took())
	require.NoError(t, b.Apply(command(stirrer, enable)))
	assert.Equal(t, []string{"GPIO5 high", "GPIO13 low", "GPIO6 low"}, r.took(), "what opens comes before what closes")
	require.NoError(t, b.Apply(command()))
	assert.Equal(t, []string{"GPIO6 high", "GPIO22 low"}, r.took())
}

func TestUnchangedOutputsAreWrittenOnceASecond(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	res := readings()
	on := command(pump, enable)
	b.Read(at(time.Minute), res)
	require.NoError(t, b.Apply(on))
	r.took()

	for d := 10 * time.Millisecond; d < time.Second; d += 10 * time.Millisecond {
		b.Read(at(time.Minute+d), res)
		require.NoError(t, b.Apply(on))
	}
	assert.Empty(t, r.took())

	r.set("GPIO13", true) // a foreign program reached past the kernel
	b.Read(at(time.Minute+time.Second), res)
	require.NoError(t, b.Apply(on))
	assert.Equal(t, []string{"GPIO6 high", "GPIO13 low", "GPIO22 high", "GPIO5 low"}, r.took())
}

func TestFailedOutputIsAFaultAndIsClaimedAnewNextTurn(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	require.NoError(t, b.Apply(command(pump, enable)))
	r.took()

	r.fail = func(op, line string) error {
		if line == "GPIO5" {
			return syscall.EIO
		}
		return nil
	}
	err := b.Apply(command(enable))
	require.ErrorIs(t, err, syscall.EIO)
	assert.ErrorContains(t, err, `drive output "flood_pump"`)
	require.ErrorIs(t, b.Apply(command(enable)), syscall.EIO, "it stays a fault while it fails")
	assert.Equal(t, []string{"release GPIO5"}, r.took())

	r.fail = nil
	require.NoError(t, b.Apply(command(enable)))
	assert.Equal(t, []string{"claim GPIO5 high"}, r.took(), "off is its first level again")
	require.NoError(t, b.Apply(command(pump, enable)))
	assert.Equal(t, []string{"GPIO5 low"}, r.took())
}

// failing makes every write to the named lines fail.
func failing(lines ...string) func(op, line string) error {
	return func(op, line string) error {
		if op != "info" && strings.Contains(" "+strings.Join(lines, " ")+" ", " "+line+" ") {
			return syscall.EIO
		}
		return nil
	}
}

func TestNoPumpCircuitClosesWhileAnotherWouldNotOpen(t *testing.T) {
	for _, stuck := range []struct {
		line    string
		on, now []int
	}{
		{"GPIO5", []int{pump, enable}, []int{stirrer, enable, air}},
		{"GPIO22", []int{enable}, []int{stirrer, air}},
	} {
		t.Run(stuck.line, func(t *testing.T) {
			r := newRig(t)
			b := r.open(site())
			require.NoError(t, b.Apply(command(stuck.on...)))
			r.fail = failing(stuck.line)
			require.ErrorIs(t, b.Apply(command(stuck.now...)), syscall.EIO)
			assert.True(t, r.high("GPIO6"), "the stirrer stays off")
			assert.True(t, r.high("GPIO13"), "air is no pump circuit")
		})
	}
}

func TestPumpDoesNotCloseWhenItsEnableWouldNot(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	r.fail = failing("GPIO22")
	require.ErrorIs(t, b.Apply(command(pump, enable, air)), syscall.EIO)
	assert.True(t, r.high("GPIO5"))
	assert.True(t, r.high("GPIO13"))
}

func TestFaultOfAnotherOutputStopsNoFlood(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	r.fail = failing("GPIO13")
	require.ErrorIs(t, b.Apply(command(pump, enable, air)), syscall.EIO)
	assert.False(t, r.high("GPIO5"))
	assert.True(t, r.high("GPIO22"))
}

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
	line := func(n int) Switch { return Switch{Line: fmt.Sprintf("GPIO%d", n), WaterCloses: true} }
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
			b := r.open(Config{HandsIn: Switch{Line: "GPIO4", WaterCloses: tt.waterCloses, Pull: tt.pull}})
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
				b := newRig(t).open(Config{HandsIn: Switch{Line: "GPIO4", WaterCloses: waterCloses, Pull: pull}})
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

func TestControlPeriodIsShortWhileAPumpCircuitMayBeClosed(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	next := func() time.Duration { return b.NextRead(time.Hour) - time.Hour }
	assert.Equal(t, 250*time.Millisecond, next())
	require.NoError(t, b.Apply(command(air)))
	assert.Equal(t, 250*time.Millisecond, next(), "air is no pump circuit")
	require.NoError(t, b.Apply(command(enable)))
	assert.Equal(t, 10*time.Millisecond, next())
	r.fail = failing("GPIO22")
	require.Error(t, b.Apply(command()))
	assert.Equal(t, 10*time.Millisecond, next(), "an enable relay that may still be closed")
	r.fail = nil
	require.NoError(t, b.Apply(command()))
	assert.Equal(t, 250*time.Millisecond, next())
}

func TestWithoutEnableThePumpsSetThePeriod(t *testing.T) {
	b := newRig(t).open(Config{
		Outputs:      []Output{{Name: "p", Line: "GPIO5", Kind: safety.FloodPump}},
		PeriodClosed: time.Millisecond, PeriodOpen: time.Second,
	})
	assert.Equal(t, time.Second, b.NextRead(0))
	require.NoError(t, b.Apply(command(0)))
	assert.Equal(t, time.Millisecond, b.NextRead(0))
}

func TestCloseOpensEverythingThenReleases(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	require.NoError(t, b.Apply(command(pump, enable, air)))
	r.took()
	require.NoError(t, b.Close())
	record := r.took()
	assert.Equal(t, []string{"GPIO5 high", "GPIO6 high", "GPIO22 low", "GPIO13 low"}, record[:4])
	assert.Equal(t, 7, strings.Count(strings.Join(record, "\n"), "release"))
	assert.Empty(t, r.claims)

	require.NoError(t, b.Close())
	require.Error(t, b.Apply(command(pump)))
	require.Error(t, b.Apply(safety.Command{}))
	require.ErrorIs(t, b.closing[0].drive(open, nil), errReleased, "nor does a command that was under way")
	assert.Empty(t, r.took(), "a closed board claims nothing")
}

// Descriptor 0 is free for a line when standard input is closed.
func TestDescriptorZeroIsALineLikeAnyOther(t *testing.T) {
	r := newRig(t)
	r.nextFD = 0
	b := r.open(site())
	r.took()
	require.NoError(t, b.Apply(command(enable)))
	assert.NotContains(t, strings.Join(r.took(), "\n"), "claim")
	require.NoError(t, b.Close())
	assert.Empty(t, r.claims)
}

// A pump on a bus that hangs must not keep the enable relay closed.
func TestOutputThatHangsKeepsNoOtherClosed(t *testing.T) {
	r := newRig(t)
	synctest.Test(t, func(t *testing.T) {
		b := r.open(site())
		require.NoError(t, b.Apply(command(pump, enable)))
		r.took()
		bus := make(chan struct{})
		r.during = func(line string) {
			if line == "GPIO5" {
				<-bus
			}
		}
		done := make(chan error)
		go func() { done <- b.Apply(safety.Command{}) }()
		time.Sleep(patience)
		synctest.Wait()
		assert.Equal(t, []string{"GPIO22 low"}, r.took())
		close(bus)
		require.NoError(t, <-done)
		assert.Equal(t, []string{"GPIO5 high"}, r.took())
		r.during = nil
	})
}

// Everything is put off while the loop is held up at closing enable. When the
// loop comes back, its old Command must not close the pump.
func TestCommandOvertakenByALaterOneClosesNothing(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	off := make(chan error)
	r.during = func(line string) {
		r.during = nil
		before := b.turn.Load()
		go func() { off <- b.Apply(safety.Command{}) }()
		for b.turn.Load() == before {
			runtime.Gosched()
		}
	}
	require.ErrorIs(t, b.Apply(command(pump, enable)), errOvertaken)
	require.NoError(t, <-off)
	assert.True(t, r.high("GPIO5"), "the pump stays off")
	assert.False(t, r.high("GPIO22"), "enable is off at the end")
}

// Otherwise a zero Command could take a relay that is about to close for open.
func TestRelayIsUnsureFromBeforeItMayClose(t *testing.T) {
	r := newRig(t)
	o := r.open(site()).closing[0]
	asked := false
	require.ErrorIs(t, o.drive(closed, func() error {
		asked = true
		assert.True(t, o.is(unsure))
		return errOvertaken
	}), errOvertaken)
	assert.True(t, asked)
	assert.True(t, o.is(open), "a write that did not happen changes nothing")
}

func TestSwitchesOfAChipShareARequestUpToItsSize(t *testing.T) {
	r := newRig(t)
	r.chip = "/dev/gpiochip1"
	c := Config{HandsIn: Switch{Line: "GPIO4"}}
	for i := range maxLines + 1 {
		name := fmt.Sprintf("X%d", i)
		r.addPin(name, i)
		c.Reservoirs = append(c.Reservoirs, Reservoir{Low: Switch{Line: name, WaterCloses: true}})
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

func TestOffReachesEveryOutputItCan(t *testing.T) {
	r := newRig(t)
	r.holders[place{"/dev/gpiochip0", 22}] = lineInfo{true, "benchtide enable"}
	c := site()
	c.Outputs = append(c.Outputs, Output{Name: "buzzer", Line: "GPIO99"})
	err := offOn(r.host(), c)
	require.ErrorContains(t, err, `held by "benchtide enable"`)
	require.ErrorContains(t, err, `"GPIO99"`)
	assert.Equal(t, []string{
		"claim GPIO5 high", "claim GPIO6 high", "claim GPIO13 low",
		"release GPIO5", "release GPIO6", "release GPIO13",
	}, r.took())
}

// Whatever is commanded and whatever fails, a pump circuit is closed only by
// the Command of this turn, or while its lines refuse to open.
func TestPumpCircuitClosesOnlyByCommand(t *testing.T) {
	r := newRig(t)
	rapid.Check(t, func(t *rapid.T) {
		b, err := openOn(r.host(), site())
		require.NoError(t, err)
		defer b.Close()
		r.fail = nil
		defer func() { r.fail = nil }()
		now := time.Duration(0)
		for range rapid.IntRange(1, 30).Draw(t, "turns") {
			now += time.Duration(rapid.SampledFrom([]int{10, 250, 1000}).Draw(t, "ms")) * time.Millisecond
			on := rapid.SliceOfDistinct(rapid.IntRange(0, 3), rapid.ID[int]).Draw(t, "on")
			r.fail = failing(rapid.SliceOf(rapid.SampledFrom([]string{"GPIO5", "GPIO6", "GPIO13", "GPIO22"})).Draw(t, "failing")...)
			pumpBefore, enableBefore := !r.high("GPIO5"), r.high("GPIO22")
			b.Read(at(now), readings())
			err := b.Apply(command(on...))
			c := command(on...)
			pumpOn, enableOn := !r.high("GPIO5"), r.high("GPIO22")
			if err == nil {
				require.Equal(t, c.On(pump), pumpOn)
				require.Equal(t, c.On(enable), enableOn)
				require.Equal(t, c.On(stirrer), !r.high("GPIO6"))
				require.Equal(t, c.On(air), r.high("GPIO13"))
			}
			if !(c.On(pump) && c.On(enable)) {
				require.False(t, pumpOn && enableOn && !(pumpBefore && enableBefore), "a circuit closed unasked")
			}
		}
	})
}

func TestLineTakenAfterTheLookIsRefusedAndTheRestReleasedOff(t *testing.T) {
	r := newRig(t)
	r.fail = func(op, line string) error {
		if op == "request" && line == "GPIO6" {
			r.holders[place{"/dev/gpiochip0", 6}] = lineInfo{true, "fan"}
			return syscall.EBUSY
		}
		return nil
	}
	_, err := openOn(r.host(), site())
	require.ErrorContains(t, err, `claim line "GPIO6" for output "stirrer": it is held by "fan"; stop that program`)
	assert.Equal(t, []string{"claim GPIO22 low", "claim GPIO5 high", "release GPIO5", "release GPIO22"}, r.took())
}

func TestSwitchTakenAfterTheLookIsRefusedWithItsHolder(t *testing.T) {
	r := newRig(t)
	r.fail = func(op, line string) error {
		if op == "request" && line == "GPIO25" {
			r.holders[place{"/dev/gpiochip0", 25}] = lineInfo{true, "fan"}
		}
		return nil
	}
	_, err := openOn(r.host(), site())
	require.ErrorContains(t, err, `claim the switch lines GPIO24, GPIO25, GPIO23: it is held by "fan"`)
	require.ErrorIs(t, err, syscall.EBUSY)
	assert.Empty(t, r.claims)
}

func BenchmarkTurn(b *testing.B) {
	r := newRig(b)
	board := r.open(site())
	r.quiet = true
	res := readings()
	cmds := [2]safety.Command{command(pump, enable), {}}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		board.Read(at(time.Duration(i)*10*time.Millisecond), res)
		if err := board.Apply(cmds[i/100%2]); err != nil {
			b.Fatal(err)
		}
	}
}
