package controller

import (
	"time"

	"benchtide/safety"
	"benchtide/schedule"
)

// clockWatch follows the wall clock against the boot-time clock: whether it is
// trusted, and whether it has stepped. It knows no bench: what a change of the
// clock does to the floods is the controller's business.
type clockWatch struct {
	trusted bool          // the calendar is in force
	mono    time.Duration // the last turn's clocks
	wall    time.Time
	since   time.Time     // the wall clock is trusted, and without a step, since here
	known   time.Time     // the newest trusted wall time; zero when there never was one
	knownAt time.Duration // the boot-time clock then
	before  time.Time     // what the clock would read had it not been set back last; by its reading at boot-time 0, zero without that
	far     time.Time     // how far the trusted wall clock had come, since it was last found to have been wrong
	away    string        // why slots before since could not be flooded
	doubted time.Duration // the boot-time clock when trust was lost, or the program started without it
	told    bool          // a person knows that the clock is not trusted
}

// doubtGrace is how long a clock may go without trust before a person hears of
// it: a board without a clock chip needs a minute after power-on.
const doubtGrace = 10 * time.Minute

// stepLimit is how far the wall clock may drift against the boot-time clock
// between two turns before it counts as a step: well above what a
// synchronising clock slews.
const stepLimit = 2 * time.Second

// poweredOff is why slots were not flooded while no program ran.
const poweredOff = "the program or its power was off"

// clockChange is what one turn found out about the clock; its zero value is that
// all goes on as it did.
type clockChange struct {
	step    time.Duration // of a trusted clock; 0 without one
	guessed bool          // a clock that never was trusted shows another date
	lost    bool          // it is not trusted any more
	back    bool          // it is trusted again
}

func (w *clockWatch) begin(now safety.Now) {
	*w = clockWatch{trusted: now.Trusted, mono: now.Mono, wall: now.Wall, since: now.Wall, doubted: now.Mono, away: poweredOff}
}

// look takes in the clocks of a turn.
func (w *clockWatch) look(now safety.Now) (k clockChange) {
	step := now.Wall.Sub(w.wall) - (now.Mono - w.mono)
	w.mono, w.wall = now.Mono, now.Wall
	if now.Trusted {
		w.known, w.knownAt = now.Wall, now.Mono
	}
	stepped := step > stepLimit || step < -stepLimit
	switch {
	case w.trusted && now.Trusted && stepped:
		k.step = step
		w.since, w.away = now.Wall, "the clock stepped over it"
		w.far = later(w.far, now.Wall.Add(-step)) // reached since the last turn
	case w.trusted && !now.Trusted:
		k.lost = true
		w.trusted, w.doubted, w.told = false, now.Mono, false
	case !w.trusted && now.Trusted:
		k.back = true
		w.trusted, w.since, w.away = true, now.Wall, "the clock was not trusted"
	case !now.Trusted && stepped:
		k.guessed = w.known.IsZero()
	}
	return k
}

// reached notes how far a trusted clock has come.
func (w *clockWatch) reached(now safety.Now) {
	if w.trusted {
		w.far = later(w.far, now.Wall)
	}
}

// calendar reports whether slots are in force; otherwise floods follow elapsed
// time.
func (w *clockWatch) calendar() bool { return w.trusted }

// awayReason says why a slot that was due then was not flooded in time.
func (w *clockWatch) awayReason(due time.Time) string {
	if due.Before(w.since) {
		return w.away
	}
	return "the queue deadline passed"
}

// tellAt is when a person is to hear of a clock that is not trusted; Never once
// one has, or while it is.
func (w *clockWatch) tellAt() time.Duration {
	if w.trusted || w.told {
		return safety.Never
	}
	return w.doubted + doubtGrace
}

// setBack reports how far the clock had come, and whether it was that far in a
// wrong future that its slots are to be taken up again. It is said once.
func (w *clockWatch) setBack(now safety.Now) (reached time.Time, back bool) {
	reached = w.far
	if back = w.far.Sub(now.Wall) > rearmBeyond; back {
		w.far = now.Wall
	}
	return reached, back
}

// undoes reports whether a step has brought the clock back to what it read before
// it was set back last.
func (w *clockWatch) undoes(now safety.Now, step time.Duration) bool {
	zero := now.Wall.Add(-now.Mono)
	undone := !w.before.IsZero() && zero.Sub(w.before).Abs() <= rearmBeyond
	w.before = time.Time{}
	if step < 0 {
		w.before = zero.Add(-step)
	}
	return undone
}

// guesses reports whether the date is what the clock happens to show: it never
// was trusted.
func (w *clockWatch) guesses() bool { return !w.trusted && w.known.IsZero() }

// believed is what the time is taken to be: while the clock is not trusted the
// newest trusted time and the time powered since.
func (w *clockWatch) believed(now safety.Now) time.Time {
	if w.trusted || w.known.IsZero() {
		return now.Wall
	}
	return w.known.Add(now.Mono - w.knownAt)
}

// today is the local date where the clock on the wall would show here for what the
// time is taken to be. Where it is but a guess it is no day before first, on which
// every batch is on its bench, so that none goes dry for want of a date.
func (w *clockWatch) today(here schedule.Civil, first schedule.Date) schedule.Date {
	if w.guesses() {
		return max(first, here.Date())
	}
	return here.Date()
}

// store writes what outlives a restart, resume reads it.
func (w *clockWatch) store(st *State) {
	st.Known, st.KnownAt, st.Far, st.Before = w.known, w.knownAt, w.far, w.before
}

// resume goes on with the date after an outage that counts as a gap. While the
// clock is not trusted only powered time and outages of known length count.
func (w *clockWatch) resume(st *State, now safety.Now, gap time.Duration, known bool) {
	w.known, w.knownAt, w.far = st.Known, now.Mono, later(st.Far, st.Known)
	if st.KnownAt != 0 {
		w.knownAt = now.Mono - gap - (st.Mono - st.KnownAt)
	}
	if known && !st.Before.IsZero() {
		w.before = st.Before.Add(st.Mono + gap - now.Mono)
	}
}
