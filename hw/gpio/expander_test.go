package gpio

import (
	"errors"
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

const tray = "/dev/gpiochip1"

// expanded is site with its pump, its air and FULL on an expander.
func expanded(t testing.TB) (*rig, Config) {
	r := newRig(t)
	r.addChip(chip{device: tray, label: "pcf8574", address: "1-0020"})
	for n, name := range []string{"E0", "E1", "E2"} {
		r.addPin(name, n)
		r.pins[lineID{tray, uint32(n)}].L = true
	}
	c := site()
	c.Outputs[pump].Line = lines.Named("E0")
	c.Outputs[air].Line = lines.Line{Chip: "pcf8574", Offset: 1}
	c.Benches[0].Full.Line = lines.Named("E2")
	return r, c
}

// life is a board and its turns, 10 ms apart.
type life struct {
	*Board
	t    testing.TB
	now  time.Duration
	res  *safety.Readings
	slow time.Duration // the longest turn
}

func (r *rig) live(t testing.TB, c Config) *life {
	b, err := openOn(r.host(), c)
	require.NoError(t, err)
	return &life{Board: b, t: t, now: time.Minute, res: readings()}
}

// turn is what the loop does: it puts everything off when a pump circuit does
// not obey.
func (l *life) turn(c safety.Command) error {
	began := time.Now()
	l.Read(at(l.now), l.res)
	err := l.Apply(c)
	if err != nil {
		_ = l.Apply(safety.Command{})
	}
	l.slow = max(l.slow, time.Since(began))
	time.Sleep(10 * time.Millisecond)
	l.now += 10 * time.Millisecond
	return err
}

// turns lives through a time and returns the first error, and when it came.
func (l *life) turns(c safety.Command, d time.Duration) (after time.Duration, first error) {
	for begun := l.now; l.now < begun+d; {
		since := l.now - begun
		if err := l.turn(c); err != nil && first == nil {
			first, after = err, since
		}
	}
	return after, first
}

// A set on an expander succeeds although the chip is gone, so only what was read
// back counts.
func TestAnOutputBehindABusIsBelievedOnlyAsItWasReadBack(t *testing.T) {
	r, c := expanded(t)
	synctest.Test(t, func(t *testing.T) {
		l := r.live(t, c)
		require.NoError(t, l.turn(command(pump, enable)))
		_, err := l.turns(command(pump, enable), time.Second)
		require.NoError(t, err)
		assert.False(t, r.high("E0"))
		require.True(t, r.high("GPIO22"))

		r.kill(tray, true)
		after, err := l.turns(command(pump, enable), 100*time.Millisecond)
		require.ErrorIs(t, err, syscall.EIO)
		assert.LessOrEqual(t, after, 20*time.Millisecond)
		outputs, rest := hw.OutputErrors(err)
		require.NotEmpty(t, outputs)
		assert.Empty(t, rest)
		assert.True(t, outputs[0].Behind)
		assert.ErrorContains(t, err, `drive output "flood_pump": read back`)
		assert.False(t, r.high("GPIO22"), "enable is the processor's own, and opens")
		assert.Equal(t, safety.Fault, l.res.Benches[0].Full.Level)
		assert.Equal(t, safety.Wet, l.res.Benches[0].High.Level, "the processor's own lines are read as ever")
		require.ErrorContains(t, l.Close(), "flood_pump", "that the pump is off is not known")
	})
}

// When the chip is there again nothing has to be started anew: its lines are
// requested again by its label, whatever its number, and brought to what is in
// force then.
func TestAChipThatWentAndCameBackHealsWhateverItsNumber(t *testing.T) {
	for _, as := range []string{tray, "/dev/gpiochip7"} {
		t.Run(as, func(t *testing.T) {
			r, c := expanded(t)
			synctest.Test(t, func(t *testing.T) {
				l := r.live(t, c)
				_, err := l.turns(command(air), time.Second)
				require.NoError(t, err)
				require.True(t, r.high("E1"))
				plug := r.unplug(tray)
				r.addChip(chip{device: "/dev/gpiochip2", label: "pcf8574", address: "1-0021"}) // another of its kind
				_, err = l.turns(command(air), 2*time.Second)
				require.ErrorIs(t, err, syscall.ENODEV)
				assert.Equal(t, safety.Fault, l.res.Benches[0].Full.Level)
				plug(as)
				_, _ = l.turns(command(air), 50*time.Millisecond)
				r.set("E2", false)
				_, err = l.turns(command(air), time.Second)
				require.NoError(t, err)
				assert.True(t, r.high("E1"), "air is in force")
				assert.True(t, r.high("E0"), "and the pump is off")
				assert.Equal(t, safety.Wet, l.res.Benches[0].Full.Level)
				require.NoError(t, l.turn(command(pump, enable, air)))
				_, err = l.turns(command(pump, enable, air), time.Second)
				require.NoError(t, err)
				assert.False(t, r.high("E0"))
				require.NoError(t, l.Close())
				assert.Empty(t, r.claims)
			})
		})
	}
}

// The same of the processor's own lines: their descriptors answer ENODEV once
// the chip went, and its number is another one after.
func TestTheProcessorsOwnChipHealsToo(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	res := readings()
	require.NoError(t, b.Apply(command(pump, enable, air)))
	plug := r.unplug("/dev/gpiochip0")
	b.Read(at(time.Second), res)
	assert.Equal(t, safety.Fault, res.Benches[0].High.Level)
	require.ErrorIs(t, b.Apply(command()), syscall.ENODEV)
	plug("/dev/gpiochip4")
	b.Read(at(2*time.Second), res)
	assert.NotEqual(t, safety.Fault, res.Benches[0].High.Level)
	r.took()
	require.NoError(t, b.Apply(command(air)))
	assert.False(t, r.high("GPIO22"))
	assert.True(t, r.high("GPIO5"))
	assert.True(t, r.high("GPIO13"))
}

// While a chip is gone, another one with its label is not it, even where it is the
// only one left: its lines are somebody else's.
func TestAChipThatWentIsNotTakenForItsTwin(t *testing.T) {
	for name, address := range map[string]string{"told apart by their addresses": "gpio.1", "by names of lines alone": "gpio.0"} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t)
			r.addChip(chip{device: "/dev/gpiochip1", label: "tray", address: "gpio.0", own: true})
			r.addPin("TWIN0", 0)
			r.addPin("TWIN1", 1)
			r.addChip(chip{device: "/dev/gpiochip2", label: "tray", address: address, own: true})
			r.addPin("OURS0", 0)
			r.addPin("OURS1", 1)
			c := site()
			c.Outputs[pump].Line, c.Benches[0].Full.Line = lines.Named("OURS0"), lines.Named("OURS1")
			b := r.open(c)
			res := readings()
			b.Read(at(time.Second), res)
			require.NoError(t, b.Apply(command(pump, enable)))
			plug := r.unplug("/dev/gpiochip2")
			r.took()
			for turn := range 8 {
				now := at(2*time.Second + time.Duration(turn)*250*time.Millisecond)
				b.Read(now, res)
				assert.Equal(t, safety.Fault, res.Benches[0].Full.Level)
				if err := b.Apply(command()); turn > 0 {
					require.ErrorContains(t, err, "it is gone")
				}
			}
			for _, moved := range r.took() {
				assert.NotContains(t, moved, "TWIN")
			}
			plug("/dev/gpiochip5")
			b.Read(at(5*time.Second), res)
			err := b.Apply(command())
			if address == "gpio.0" {
				require.ErrorContains(t, err, "it is gone", "which of the two it is, nothing says")
				return
			}
			require.NoError(t, err)
			assert.NotEqual(t, safety.Fault, res.Benches[0].Full.Level)
			assert.Contains(t, r.took(), "claim OURS0 high")
		})
	}
}

// A chip that lost its power comes back with inputs alone: it takes every set,
// and nothing moves.
func TestAChipThatLostItsPowerIsSetUpAnew(t *testing.T) {
	r, c := expanded(t)
	synctest.Test(t, func(t *testing.T) {
		l := r.live(t, c)
		_, _ = l.turns(command(air), 100*time.Millisecond)
		power := func() {
			r.mu.Lock()
			defer r.mu.Unlock()
			for at, p := range r.pins {
				if at.chip == tray {
					r.blank[p] = true
					p.L = true
				}
			}
		}
		r.set("E1", true)
		power() // while nothing but air runs
		_, err := l.turns(command(air), 100*time.Millisecond)
		require.NoError(t, err, "its pull is what air wants")
		_, err = l.turns(command(pump, enable), time.Second)
		require.NoError(t, err, "a relay that closes is set up anew")
		assert.False(t, r.high("E0"))

		power() // in mid-run
		after, err := l.turns(command(pump, enable), 100*time.Millisecond)
		require.ErrorContains(t, err, "it was driven low and reads high")
		assert.LessOrEqual(t, after, 20*time.Millisecond)
		_, err = l.turns(command(pump, enable), time.Second)
		require.NoError(t, err, "requested anew")
		assert.False(t, r.high("E0"))
		require.NoError(t, l.Close())
	})
}

// A silent bus takes the kernel 150 ms a call, and one that hangs any time. No
// turn waits for either.
func TestNoTurnWaitsForABus(t *testing.T) {
	for name, takes := range map[string]time.Duration{"quick": 2 * time.Millisecond, "slow": 30 * time.Millisecond, "silent": 150 * time.Millisecond, "hangs": time.Minute} {
		t.Run(name, func(t *testing.T) {
			r, c := expanded(t)
			synctest.Test(t, func(t *testing.T) {
				l := r.live(t, c)
				_, err := l.turns(command(pump, enable, air), time.Second)
				require.NoError(t, err)
				r.mu.Lock()
				r.hang = func(string) { time.Sleep(takes) }
				r.dead[tray] = takes >= 150*time.Millisecond
				r.mu.Unlock()
				l.slow = 0
				after, err := l.turns(command(pump, enable, air), 2*time.Second)
				assert.LessOrEqual(t, l.slow, 2*patience+2*patience, "of one Read and two Applies")
				if takes < 150*time.Millisecond {
					require.NoError(t, err)
					assert.True(t, r.high("GPIO22"))
				} else {
					require.Error(t, err)
					assert.LessOrEqual(t, after, silence+50*time.Millisecond)
					assert.False(t, r.high("GPIO22"))
					assert.Equal(t, safety.Fault, l.res.Benches[0].Full.Level)
				}
				begun := time.Now()
				_ = l.Close()
				assert.LessOrEqual(t, time.Since(begun), 3*time.Second)
				time.Sleep(10 * time.Minute) // the keepers let go in the end
			})
			assert.Empty(t, r.claims)
		})
	}
}

// A reading carries the time at which it was asked for, so that the guard sees
// how old it is.
func TestAReadingBehindABusTellsItsAge(t *testing.T) {
	r, c := expanded(t)
	synctest.Test(t, func(t *testing.T) {
		l := r.live(t, c)
		_ = l.turn(command())
		assert.Equal(t, l.now-10*time.Millisecond, l.res.Benches[0].Full.At, "quick: of this turn")
		r.mu.Lock()
		r.hang = func(string) { time.Sleep(40 * time.Millisecond) }
		r.mu.Unlock()
		for range 20 {
			_ = l.turn(command())
			age := l.now - 10*time.Millisecond - l.res.Benches[0].Full.At
			assert.LessOrEqual(t, age, 100*time.Millisecond)
		}
		r.mu.Lock()
		r.hang = nil
		r.mu.Unlock()
		require.NoError(t, l.Close())
	})
}

// While one pump is not known to be open, no other pump's circuit closes.
func TestNoCircuitClosesWhileAPumpBehindABusIsOnItsWay(t *testing.T) {
	r, c := expanded(t)
	synctest.Test(t, func(t *testing.T) {
		l := r.live(t, c)
		_, _ = l.turns(command(pump, enable), 100*time.Millisecond)
		r.mu.Lock()
		r.hang = func(string) { time.Sleep(40 * time.Millisecond) }
		r.mu.Unlock()
		require.NoError(t, l.turn(command(stirrer, enable)))
		assert.True(t, r.high("GPIO6"), "the stirrer waits")
		assert.Equal(t, l.now+periodClosed, l.NextRead(l.now))
		_, err := l.turns(command(stirrer, enable), 200*time.Millisecond)
		require.NoError(t, err)
		assert.True(t, r.high("E0"))
		assert.False(t, r.high("GPIO6"))
		r.mu.Lock()
		r.hang = nil
		r.mu.Unlock()
		require.NoError(t, l.Close())
	})
}

func TestASiteStartsAlthoughAnExpanderIsDeafAndSaysSo(t *testing.T) {
	r, c := expanded(t)
	r.dead[tray] = true
	synctest.Test(t, func(t *testing.T) {
		l := r.live(t, c)
		_, err := l.turns(command(), 50*time.Millisecond)
		require.ErrorContains(t, err, "flood_pump")
		r.mu.Lock()
		r.dead[tray] = false
		r.mu.Unlock()
		_, _ = l.turns(command(), 50*time.Millisecond)
		_, err = l.turns(command(air), time.Second)
		require.NoError(t, err)
		require.NoError(t, l.Close())
	})
	r.dead[tray] = true
	synctest.Test(t, func(t *testing.T) {
		require.ErrorContains(t, offOn(r.host(), c), "E0", "that it is off is not known")
	})
	r.dead[tray] = false
	r.holders[lineID{tray, 0}] = lineInfo{used: true, consumer: "fan"}
	_, err := openOn(r.host(), c)
	require.ErrorContains(t, err, `held by "fan"`, "that does not heal")
}

// Whatever the bus does, what is told as obeyed is so, and a pump circuit is
// closed only by command.
func TestAPumpBehindABusIsClosedOnlyByCommand(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r, c := expanded(t)
		r.quiet = true
		synctest.Test(t, func(t *testing.T) {
			l := r.live(t, c)
			for range rapid.IntRange(1, 30).Draw(rt, "turns") {
				takes := time.Duration(rapid.SampledFrom([]int{0, 0, 1, 8, 60, 200}).Draw(rt, "ms")) * time.Millisecond
				r.mu.Lock()
				r.hang = func(string) { time.Sleep(takes) }
				r.dead[tray] = rapid.IntRange(0, 3).Draw(rt, "dead") == 0
				r.mu.Unlock()
				on := rapid.SliceOfDistinct(rapid.IntRange(0, 3), rapid.ID[int]).Draw(rt, "on")
				cmd := command(on...)
				for range rapid.IntRange(1, 40).Draw(rt, "long") {
					l.Read(at(l.now), l.res)
					err := l.Apply(cmd)
					if err != nil {
						_ = l.Apply(command())
						if r.high("GPIO22") {
							rt.Fatalf("enable is closed with %v", err)
						}
					}
					if err == nil && !cmd.On(enable) && r.high("GPIO22") {
						rt.Fatalf("enable is closed unasked")
					}
					l.now += 10 * time.Millisecond
					time.Sleep(10 * time.Millisecond)
				}
				// By now either it obeyed or it was told.
				l.Read(at(l.now), l.res)
				time.Sleep(time.Second)
				if err := l.Apply(cmd); err == nil && !cmd.On(pump) && !r.high("E0") {
					rt.Fatalf("the pump is closed unasked, and nobody was told")
				}
			}
			_ = l.Close()
			time.Sleep(time.Minute)
		})
	})
}

func TestTheFaultOfAnOutputBehindABusStaysItsOwn(t *testing.T) {
	r, c := expanded(t)
	synctest.Test(t, func(t *testing.T) {
		l := r.live(t, c)
		_, _ = l.turns(command(), 100*time.Millisecond)
		r.mu.Lock()
		r.fail = func(op, line string) error {
			if op == "get" && line == "E1" {
				return errors.New("no answer")
			}
			return nil
		}
		r.mu.Unlock()
		_ = l.turn(command(air))
		l.Read(at(l.now), l.res)
		outputs, rest := hw.OutputErrors(l.Apply(command(pump, enable, air)))
		require.Len(t, outputs, 1)
		assert.Equal(t, air, outputs[0].Output)
		assert.Empty(t, rest)
		r.mu.Lock()
		r.fail = nil
		r.mu.Unlock()
		_, _ = l.turns(command(pump, enable, air), 100*time.Millisecond)
		assert.False(t, r.high("E0"), "the flood goes on")
		require.NoError(t, l.Close())
	})
}
