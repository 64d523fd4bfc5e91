package safety

import "time"

// The delays of the switch filter and the age at which a reading no longer
// counts. Waves, pump vibration and bubbles move a float for tenths of a
// second, while water that fills or empties a table moves it for minutes: a
// second tells the two apart on the way up; on the way down three do, because
// an overflow that gulps lets a float bob for longer. Common practice, no
// source. Levels that must not wait, HIGH and leak, are acted on raw.
const (
	MakeDelay  = time.Second
	BreakDelay = 3 * time.Second
	StaleAfter = 500 * time.Millisecond
)

// splash is how long waves may lap at a switch before it counts as water that
// stays, although it has not been wet for MakeDelay. Common practice, no source.
const splash = 30 * time.Second

// chatterLimit is how many filtered changes of one switch a flood may bring.
const chatterLimit = 6

// filter turns the raw readings of one switch into a level that holds still.
type filter struct {
	Switch                 // as filtered; Absent until the first reading
	raw      Level         // as last read, a fault read as its unsafe level
	rawSince time.Duration // when raw began
	fault    bool          // the last reading failed
	stale    bool          // the last good reading was too old in this turn
	at       time.Duration // when it was last read successfully
	changed  bool          // the filtered level changed in this turn
	rose     bool          // the raw level became wet in this turn
	fresh    bool          // and it had not been wet within the last BreakDelay
	wasWet   bool
	began    time.Duration // when it was last fresh
	changes  [chatterLimit + 1]time.Duration
	count    int
}

// observe takes one reading. A fault reads as faultAs; with Absent it holds
// the filtered level, or reads as wet when there is none yet.
func (f *filter) observe(now time.Duration, r Reading, faultAs Level) {
	f.at, f.fault, f.stale = r.At, r.Level != Dry && r.Level != Wet, now-r.At > StaleAfter
	f.changed, f.rose, f.fresh = false, false, false
	level := r.Level
	if f.fault {
		level = f.onFault(faultAs)
	}
	first := f.Level == Absent
	if first || level != f.raw {
		f.turn(now, level)
	}
	if first {
		f.Switch = Switch{level, now}
	} else if f.raw != f.Level && now >= f.settles() {
		f.settle()
	}
}

func (f *filter) onFault(as Level) Level {
	switch {
	case as != Absent:
		return as
	case f.Level != Absent:
		return f.Level
	default:
		return Wet
	}
}

func (f *filter) turn(now time.Duration, level Level) {
	if level == Wet {
		f.rose = true
		f.fresh = !f.wasWet || now-f.rawSince >= BreakDelay
		f.wasWet = true
		if f.fresh {
			f.began = now
		}
	}
	f.raw, f.rawSince = level, now
}

func (f *filter) settle() {
	f.Switch = Switch{f.raw, f.rawSince}
	f.changed = true
	f.changes[f.count%len(f.changes)] = f.rawSince
	f.count++
}

// settles is when the filtered level follows the raw one.
func (f *filter) settles() time.Duration {
	if f.raw == Wet {
		return f.rawSince + MakeDelay
	}
	return f.rawSince + BreakDelay
}

// reached reports whether the switch is at level, or on its way there since by.
func (f *filter) reached(level Level, by time.Duration) bool {
	return f.Level == level || f.raw == level && f.rawSince <= by
}

// anyWet reports whether the switch shows water, raw or filtered.
func (f *filter) anyWet() bool { return f.raw == Wet || f.Level == Wet }

// persists reports whether the raw level has stood for the make delay.
func (f *filter) persists(now time.Duration) bool { return now-f.rawSince >= MakeDelay }

// flutters reports whether the switch has been wet again and again for longer
// than a splash takes.
func (f *filter) flutters(now time.Duration) bool { return now-f.began >= splash }

// chatters reports whether the change of this turn is one too many within window.
func (f *filter) chatters(window time.Duration) bool {
	if !f.changed || f.count <= chatterLimit {
		return false
	}
	newest := f.changes[(f.count-1)%len(f.changes)]
	oldest := f.changes[f.count%len(f.changes)]
	return newest-oldest <= window
}

// forget makes the next reading count as the first one; before it there is none.
func (f *filter) forget() { *f = filter{stale: true} }
