package controller

import "time"

// cropClock is that of one batch: the time since the last flood that counted,
// against what the plants can stand. Times are on the boot-time clock. It knows
// nothing of benches and floods but what it is told: what is ahead, and what
// became of the floods that were due.
type cropClock struct {
	since   time.Duration // the last flood that counted
	trouble bool          // a planned flood did not count since then
	dry     bool          // a person left out a planned flood since then
	noFlood bool          // no flood has counted yet: it counts from when the batch came, or the program began
	level   int           // how far the messages have escalated: 0 not at all, 1 told, 2 at three quarters, 3 over
}

// escalation says at which part of what a crop can wait it is told of again.
var escalation = [...]float64{0, 0.75, 1}

// ahead is what a crop clock has to know of the floods of its bench to come.
type ahead struct {
	busy    bool          // a flood is under way or waits for its turn
	refused bool          // the one that waits for its turn may not start
	since   time.Duration // when it could have started first
	held    bool          // something keeps the next one from starting
	hot     bool          // the limit is that of pots in hot weather: should the next one fail too, no time is left
	skips   bool          // a person has skipped one to come
	next    end           // of the next flood that no skip leaves out; not set while busy
	planned end           // of the next flood as if nobody had skipped any
}

// end is when a flood will have been held; not ok without a flood to come.
type end struct {
	at time.Duration
	ok bool
}

// plight is what a person is to be told of a crop.
type plight int

const (
	fine      plight = iota
	skipped          // its flood was skipped by hand, and the next one comes too late
	over             // it has waited longer than it can
	runsOut          // most of what it can wait has gone
	tooRare          // the next planned flood comes too late
	unwatered        // a planned flood did not count
)

// runOut is when a crop that can wait so long can wait no longer.
func (k *cropClock) runOut(wait time.Duration) time.Duration { return k.since + wait }

// ratio is the time since the last flood that counted as a fraction of what the
// crop can wait; 0 for a crop that can wait for ever.
func (k *cropClock) ratio(now, wait time.Duration) float64 {
	if wait <= 0 {
		return 0
	}
	return float64(now-k.since) / float64(wait)
}

// part is when so much of what the crop can wait has gone.
func (k *cropClock) part(level int, wait time.Duration) time.Duration {
	return k.since + time.Duration(escalation[level]*float64(wait))
}

// missed takes in that a planned flood that was due then did not count. A crop
// that was watered since then has had what it was to bring.
func (k *cropClock) missed(due time.Duration) {
	if k.since <= due {
		k.trouble = true
	}
}

// inTime reports whether a flood that ends then comes before the crop can wait no
// longer.
func (k *cropClock) inTime(e end, wait time.Duration) bool { return e.ok && e.at <= k.runOut(wait) }

// needsCatchUp reports whether the crop cannot wait for the next slot, and nobody
// wants it to.
func (k *cropClock) needsCatchUp(e end, wait time.Duration) bool {
	return !k.inTime(e, wait) && (k.trouble || !k.dry)
}

// serves reports whether the last flood that counted is no older than from, and
// lasts until a time.
func (k *cropClock) serves(from, until, wait time.Duration) bool {
	return k.since >= from && k.runOut(wait) >= until
}

// tooLate reports whether the next planned flood comes later than the crop can
// wait, and none is under way or waits for its turn.
func (k *cropClock) tooLate(a *ahead, wait time.Duration) bool {
	return !a.busy && !k.inTime(a.next, wait)
}

// patience is the part of the escalation before which a crop is not told of: it
// would be in time but for a flood that a person wants left out.
func (k *cropClock) patience(a *ahead, wait time.Duration) int {
	switch {
	case k.trouble:
		return 0
	case !a.planned.ok:
		return len(escalation) - 1 // perhaps it leaves its bench today
	case k.dry || a.skips && k.inTime(a.planned, wait):
		return 1
	}
	return 0
}

// look says what a person is to be told now, once for each part of the
// escalation, and when to look again; 0 where nothing comes by itself.
func (k *cropClock) look(now, wait time.Duration, a *ahead) (plight, time.Duration) {
	if k.level >= len(escalation) {
		return fine, 0
	}
	if !k.trouble && !k.tooLate(a, wait) {
		if stuck, at := k.stuck(a, wait); !stuck || now < at {
			return fine, at
		}
	}
	if at := k.part(max(k.level, k.patience(a, wait)), wait); now < at {
		return fine, at
	}
	if out := k.runOut(wait); now < out && k.level > 0 && !a.held && !a.hot && !k.tooLate(a, wait) {
		return fine, out // a flood is on its way
	}
	for k.level < len(escalation) && now >= k.part(k.level, wait) {
		k.level++
	}
	if k.level == len(escalation) {
		return k.plight(now, wait, a), 0
	}
	return k.plight(now, wait, a), k.part(k.level, wait)
}

// shortWait is how long a flood may be kept from starting before it is more than
// hands in the bench or a neighbour's turn, where the crop has time (common practice, no
// source).
const shortWait = time.Hour

// stuck reports whether what waits for its turn may not start, and from when on that
// is told of: once three quarters of what the crop can wait have gone and the wait is
// no short one, and at the latest when the crop can wait no longer. Whoever has hands in
// the bench needs no word of it meanwhile.
func (k *cropClock) stuck(a *ahead, wait time.Duration) (bool, time.Duration) {
	if !a.busy || !a.refused {
		return false, 0
	}
	return true, min(k.runOut(wait), max(k.part(1, wait), a.since+min(shortWait, wait/8)))
}

func (k *cropClock) plight(now, wait time.Duration, a *ahead) plight {
	left := k.runOut(wait) - now
	switch {
	case left > 0 && !k.trouble && k.patience(a, wait) == 1:
		return skipped
	case left <= 0:
		return over
	case k.level >= 2:
		return runsOut
	case !k.trouble:
		return tooRare
	}
	return unwatered
}
