package gpio

import (
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

// Close may come at any moment of an Apply. Whatever comes first, at the end every
// relay is open, every line is released, and no line is written after that: its
// descriptor may be another file's by then.
func TestCloseBesideAnApplyLeavesNothingOn(t *testing.T) {
	for name, c := range map[string]struct{ from, to safety.Command }{
		"a start":          {command(), command(pump, enable, air)},
		"another pump":     {command(pump, enable), command(stirrer, enable, air)},
		"a stop":           {command(pump, enable, air), command()},
		"the same again":   {command(pump, enable), command(pump, enable)},
		"nothing to do":    {command(), command()},
		"the pump's relay": {command(enable), command(pump, enable)},
	} {
		for held := range 5 { // Close comes while the write of this number is made, or before them all
			t.Run(fmt.Sprintf("%s, at write %d", name, held), func(t *testing.T) {
				r := newRig(t)
				r.quiet = true
				b := r.open(site())
				require.NoError(t, b.Apply(c.from))
				var closing sync.WaitGroup
				begin := func() {
					closing.Go(func() { assert.NoError(t, b.Close()) })
					for !b.ended.Load() {
						runtime.Gosched()
					}
				}
				var writes atomic.Int32
				r.during = func(string) {
					if int(writes.Add(1)) == held {
						begin()
					}
				}
				b.Read(at(refresh), readings()) // every output is written
				if held == 0 {
					begin()
				}
				_ = b.Apply(c.to) // overtaken, or done before
				if int(writes.Load()) < held {
					begin()
				}
				closing.Wait()
				for line, off := range map[string]bool{"GPIO5": true, "GPIO6": true, "GPIO22": false, "GPIO13": false} {
					assert.Equal(t, off, r.high(line), "%s is off", line)
				}
				assert.Empty(t, r.claims)
				require.Error(t, b.Apply(c.to), "and stays so")
				assert.Empty(t, r.claims)
			})
		}
	}
}

// An Apply that Close overtakes just before its last question closes nothing: not
// even for the moment until Close comes round to that relay.
func TestNoRelayClosesOnceCloseHasBegun(t *testing.T) {
	r := newRig(t)
	b := r.open(site())
	r.took()
	var closing sync.WaitGroup
	r.during = func(line string) {
		if line != "GPIO22" || b.ended.Load() {
			return
		}
		before := b.turn.Load() // Apply closes enable
		closing.Go(func() { assert.NoError(t, b.Close()) })
		for n := 0; b.turn.Load() == before && n < 1_000_000; n++ {
			runtime.Gosched()
		}
	}
	require.ErrorIs(t, b.Apply(command(pump, enable, air)), errOvertaken)
	closing.Wait()
	for _, energised := range []string{"GPIO5 low", "GPIO6 low", "GPIO13 high"} {
		assert.NotContains(t, r.record, energised)
	}
}
