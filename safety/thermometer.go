package safety

import "time"

// What is believed of a thermometer in some hundred litres of water, which warm
// and cool by a few degrees in an hour. A top-up may bring more, and stays; a
// loose wire or a sensor that has just been powered shows something else for
// moments. A sensor's last digit moves by itself, and water follows the day: one
// that shows the very same for days has stuck. Common practice, no source.
const (
	// BelievedFor is how long the last believed temperature stands for the
	// present one: for so long what was too cold stays too cold.
	BelievedFor = time.Hour

	jumpBy     Celsius = 5
	jumpStands         = 2 * time.Minute // from then on a jump is believed
	jumpSteady Celsius = 2               // within which it has to stand
	frozenFor          = 72 * time.Hour
)

// thermometer is what is believed of the temperature of one reservoir.
type thermometer struct {
	value Celsius       // as believed last
	at    time.Duration // when that was; the start of the program before the first
	known bool          // there was one
	raw   Celsius       // as last read
	since time.Duration // when raw began
	read  bool          // it was read at all
	asked time.Duration // when it was last asked
	shows bool          // it was read in this turn, and has not stuck
	jump  Celsius       // what it jumped to
	from  time.Duration // when
	jumps bool          // a jump is not believed yet
}

// observe takes one reading.
func (t *thermometer) observe(now time.Duration, value Celsius, ok bool) {
	if ok && (!t.read || value != t.raw) {
		t.read, t.raw, t.since = true, value, now
	}
	t.shows = ok && now-t.since < frozenFor
	switch {
	case !t.shows:
		t.jumps = false
	case !t.leaps(now, value):
		t.value, t.at, t.known, t.jumps = value, now, true, false
	}
	t.asked = now
}

// leaps reports whether a value is too far from the believed one to be believed
// before it has stood for a while.
func (t *thermometer) leaps(now time.Duration, value Celsius) bool {
	if !t.known || now-t.asked >= BelievedFor || degrees(value, t.value) <= jumpBy {
		return false
	}
	if !t.jumps || degrees(value, t.jump) > jumpSteady {
		t.jumps, t.jump, t.from = true, value, now
	}
	return now-t.from < jumpStands
}

// stands is when a jump will have stood for long enough; Never without one.
func (t *thermometer) stands() time.Duration {
	if !t.jumps {
		return Never
	}
	return t.from + jumpStands
}

func degrees(a, b Celsius) Celsius { return max(a-b, b-a) }

// believed reports whether the last believed temperature may stand for now.
func (t *thermometer) believed(now time.Duration) bool { return t.known && now-t.at < BelievedFor }

// cold reports whether the solution is too cold to pump: by what the sensor shows
// now, a jump too, else by what was believed last.
func (t *thermometer) cold(now time.Duration) bool {
	if t.shows {
		return t.raw <= ColdLimit
	}
	return t.believed(now) && t.value <= ColdLimit
}
