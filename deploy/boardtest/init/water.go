//go:build boardtest && linux

package main

import (
	"encoding/json"
	"errors"
	"sync"
	"time"

	"golang.org/x/sys/unix"

	"benchtide/deploy/boardtest/console"
)

// water is a table whose level goes up at one rate while its pump and enable
// relay are closed, and down at another: enough to make FULL in time.
type water struct {
	console.Table
	level float64 // 1 is FULL
	steps int
}

// waterStep is how often a table looks at its relays.
const waterStep = 100 * time.Millisecond

// settled is how many steps a table at rest lets pass before it looks again, and
// sets its contacts, which the kernel moves when their lines are claimed.
const settled = 5

var flowing sync.Once

// pour fills and drains tables from now on.
func pour(data string) error {
	var tables []console.Table
	if err := json.Unmarshal([]byte(data), &tables); err != nil {
		return err
	}
	err := errors.New("pour: water flows already")
	flowing.Do(func() {
		err = nil
		all := make([]*water, len(tables))
		for i, t := range tables {
			all[i] = &water{Table: t}
			all[i].contacts()
		}
		go func() {
			for range time.Tick(waterStep) {
				for _, w := range all {
					w.step(waterStep)
				}
			}
		}()
	})
	return err
}

func (w *water) step(d time.Duration) {
	if w.steps++; w.level == 0 && w.steps%settled != 0 {
		return
	}
	rate := -d.Seconds() / w.FallS
	if is(w.Pump) && is(w.Enable) {
		rate = d.Seconds() / w.FillS
	}
	w.level = min(max(w.level+rate, 0), 1.05)
	w.contacts()
}

// contacts puts FULL and HIGH where the water has them. A closed contact is to
// ground; a chip that is gone has none.
func (w *water) contacts() {
	_ = pull(w.Full, way(w.level < 1))
	_, made := madeHigh.Load(w.High)
	_ = pull(w.High, way(made))
}

func way(up bool) string {
	if up {
		return "up"
	}
	return "down"
}

// madeHigh are the lines of the HIGHs that are made.
var madeHigh sync.Map

// makeHigh opens or closes the contact of a HIGH.
func makeHigh(line string, made bool) error {
	if made {
		madeHigh.Store(line, true)
	} else {
		madeHigh.Delete(line)
	}
	return pull(line, way(made))
}

// is reports whether a line is at a level.
func is(s console.Seen) bool {
	h, err := high(s.Line)
	return err == nil && h == s.High
}

// act waits until lines are at their levels, does something with the kernel's
// files, and says how long after that each of other lines was at its level, in
// ns; 0 is never.
func act(data string) (string, error) {
	var a console.Act
	if err := json.Unmarshal([]byte(data), &a); err != nil {
		return "", err
	}
	for patience := bootClock() + actWithin; !awaited(a.When); time.Sleep(awaitEvery) {
		if bootClock() > patience {
			return "", errors.New("act: what was waited for did not come")
		}
	}
	time.Sleep(time.Duration(a.AfterMS) * time.Millisecond)
	begun := bootClock()
	if err := doFiles(a.Do); err != nil {
		return "", err
	}
	undone := make(chan error, 1)
	go func() {
		time.Sleep(begun + time.Duration(a.UndoMS)*time.Millisecond - bootClock())
		undone <- doFiles(a.Undo)
	}()
	b, err := json.Marshal(watch(a.Then, begun, time.Duration(a.LimitMS)*time.Millisecond))
	return string(b), errors.Join(err, <-undone)
}

// watch says how long after begun each line was first at its level, in ns.
func watch(lines []console.Seen, begun, limit time.Duration) []int64 {
	took := make([]int64, len(lines))
	for missing := len(took); missing > 0 && bootClock()-begun < limit; time.Sleep(lookEvery) {
		for i, s := range lines {
			if took[i] == 0 && is(s) {
				took[i] = int64(bootClock() - begun)
				missing--
			}
		}
	}
	return took
}

// actWithin is how long an act waits for its time.
const actWithin = 20 * time.Minute

// awaitEvery is how often an act looks whether its time has come, lookEvery how
// finely it is timed.
const (
	awaitEvery = 250 * time.Millisecond
	lookEvery  = 100 * time.Microsecond
)

func awaited(all []console.Seen) bool {
	for _, s := range all {
		if !is(s) {
			return false
		}
	}
	return true
}

func bootClock() time.Duration {
	var t unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_BOOTTIME, &t) // it cannot fail
	return time.Duration(t.Nano())
}
