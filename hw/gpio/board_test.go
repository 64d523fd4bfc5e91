package gpio

import (
	"runtime"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/hw"
	"benchtide/hw/lines"
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
			b := r.open(Config{Outputs: []Output{{Name: "p", Line: lines.Named("GPIO5"), EnergiseHigh: energiseHigh, Kind: safety.FloodPump}}})
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
	b := newRig(t).open(Config{Outputs: []Output{{Name: "p", Line: lines.Named("GPIO5"), Kind: safety.FloodPump}}})
	assert.Equal(t, periodOpen, b.NextRead(0))
	require.NoError(t, b.Apply(command(0)))
	assert.Equal(t, periodClosed, b.NextRead(0))
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

func TestOffReachesEveryOutputItCan(t *testing.T) {
	r := newRig(t)
	r.holders[lineID{"/dev/gpiochip0", 22}] = lineInfo{used: true, consumer: "benchtide enable"}
	c := site()
	c.Outputs = append(c.Outputs, Output{Name: "buzzer", Line: lines.Named("GPIO99")})
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
			r.holders[lineID{"/dev/gpiochip0", 6}] = lineInfo{used: true, consumer: "fan"}
			return syscall.EBUSY
		}
		return nil
	}
	_, err := openOn(r.host(), site())
	require.ErrorContains(t, err, `claim line "GPIO6" for output "stirrer": it is held by "fan"; stop that program`)
	assert.Equal(t, []string{"claim GPIO22 low", "claim GPIO5 high", "release GPIO5", "release GPIO22"}, r.took())
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

func TestEachOutputThatDoesNotObeyIsTold(t *testing.T) {
	r := newRig(t)
	b := r.open(Config{Outputs: []Output{
		{Name: "air", Line: lines.Named("GPIO13"), EnergiseHigh: true}, {Name: "lamp", Line: lines.Named("GPIO19"), EnergiseHigh: true}, {Name: "horn", Line: lines.Named("GPIO26"), EnergiseHigh: true},
	}})
	for _, deaf := range []string{"GPIO13", "GPIO19", "GPIO26"} {
		r.fail = func(_, line string) error {
			if line == deaf {
				return syscall.EIO
			}
			return nil
		}
		outputs, rest := hw.OutputErrors(b.Apply(command(0, 1, 2)))
		require.Len(t, outputs, 1, deaf)
		assert.Empty(t, rest)
		r.fail = nil
		require.NoError(t, b.Apply(safety.Command{}))
	}
}

func TestAClosedBoardClaimsNoLineAnew(t *testing.T) {
	r := newRig(t)
	b := r.open(Config{Outputs: []Output{{Name: "air", Line: lines.Named("GPIO13"), EnergiseHigh: true}}})
	o := b.opening[0]
	r.fail = func(op, _ string) error {
		if op == "close" {
			return syscall.EIO
		}
		return nil
	}
	require.Error(t, b.Close())
	r.fail = nil
	r.took()
	require.ErrorIs(t, o.drive(closed, nil), errReleased)
	assert.Empty(t, r.took())
}
