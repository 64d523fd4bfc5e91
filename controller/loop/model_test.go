package loop_test

import (
	"flag"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchtide/controller"
)

var (
	onlyRule = flag.String("rule", "", "judge random sequences of acts by this rule alone")
	acts     = flag.Int("acts", 300, "random sequences of acts for each site")
	actsSeed = flag.Uint64("acts.seed", 1, "where they begin")
)

// step is one thing that happens, as data: each kind reads of its figures what
// it needs.
type step struct {
	kind  string
	bench int
	span  time.Duration
	dice  int
}

// GoString keeps the list of steps short: the story tells them in words.
func (s step) GoString() string { return s.kind }

// spans are the times that matter somewhere.
var spans = []time.Duration{
	time.Minute, time.Second, 5 * time.Minute, 12 * time.Minute, 30 * time.Minute, time.Hour, 90 * time.Minute, 3 * time.Hour,
	6 * time.Hour, 9 * time.Hour, 13 * time.Hour, day, 30 * time.Hour, 2 * day, 3 * day,
}

// strides are how far clocks are set.
var strides = []time.Duration{
	time.Hour, 3 * time.Second, time.Minute, 30 * time.Minute, 90 * time.Minute, 3 * time.Hour, 12 * time.Hour, day, 10 * day, 90 * day, 365 * day, 3650 * day,
}

// kinds of steps; those that come often are there more than once.
var kinds = []string{
	"pass", "pass", "pass", "pass", "to the next flood", "to the next flood", "to a phase", "to a phase",
	"flood", "flood", "stop", "stop", "skip", "skip", "skip", "take back", "pause", "pause", "resume",
	"hands in", "hands out", "reset", "sanitise", "rinsed", "advance", "close", "reopen",
	"clock", "clock", "doubt", "doubt", "set right", "set right",
	"crash", "restart", "reload", "cut", "cut", "slow", "gone", "stored",
	"dead", "blocked", "high", "dry", "mend", "mend",
}

var anyStep = rapid.Custom(func(t *rapid.T) step {
	s := step{kind: rapid.SampledFrom(kinds).Draw(t, "kind"), bench: rapid.IntRange(0, 1).Draw(t, "bench")}
	s.span = rapid.SampledFrom(spans).Draw(t, "span")
	s.dice = rapid.IntRange(0, 59).Draw(t, "dice")
	return s
})

var layouts = []*layout{
	{name: "one bench", began: "2026-03-02 08:00", canWait: 30 * time.Hour, times: [][2][]string{{{"09:00", "15:00"}, {"08:00", "12:00", "16:00"}}}},
	{name: "one bench, once a day", began: "2026-03-27 08:00", canWait: 48 * time.Hour, buzz: 30 * time.Second, times: [][2][]string{{{"01:30"}, {"09:00", "15:00"}}}},
	{name: "two benches on one tank", began: "2026-10-23 08:00", canWait: 30 * time.Hour, times: [][2][]string{{{"09:00", "15:00"}, {"08:00", "12:00", "16:00"}}, {{"09:00", "17:00"}, {"01:30", "09:00"}}}},
	{name: "two benches apart", began: "2026-06-02 08:00", canWait: 40 * time.Hour, apart: true, times: [][2][]string{{{"09:00"}, {"07:00", "19:00"}}, {{"09:00", "15:00"}, {"09:00", "15:00", "21:00"}}}},
}

func TestWhatPeopleAreToldIsSo(t *testing.T) {
	set(t, "rapid.checks", fmt.Sprint(*acts))
	given := flag.Lookup("rapid.seed").Value.String()
	for i, l := range layouts {
		t.Run(l.name, func(t *testing.T) {
			if given == "0" {
				set(t, "rapid.seed", fmt.Sprint(*actsSeed+1_000_000*uint64(i)))
			}
			t.Logf("seed %s", flag.Lookup("rapid.seed").Value)
			rapid.Check(t, func(t *rapid.T) { story(t, l) })
		})
	}
}

func set(t *testing.T, name, value string) {
	if err := flag.Set(name, value); err != nil {
		t.Fatal(err)
	}
}

// story lives through a random sequence of steps, then has all that keeps water
// from the plants removed, and looks whether they are watered.
func story(t *rapid.T, l *layout) {
	wrong, trusted := time.Duration(0), true
	if first := rapid.IntRange(0, 5).Draw(t, "first clock"); first > 2 {
		wrong, trusted = []time.Duration{3650 * day, -90 * day, -day}[first-3], false
	}
	steps := rapid.SliceOfN(anyStep, 1, 25).Draw(t, "steps")
	m := newModelSite(l, wrong, trusted, t.Logf)
	p := &player{T: t, modelSite: m}
	if !trusted {
		p.Logf("first start with a clock that shows %s", m.oracle.local(m.Now().Wall))
	}
	for i := range steps {
		p.play(&steps[i])
		p.judge()
	}
	p.heal()
	p.judge()
}

// player performs steps and says in words what it does.
type player struct {
	*rapid.T
	*modelSite
}

func (p *player) judge() {
	if p.oracle.broken != "" {
		p.Fatalf("%s: %s: %s", p.clock(), p.oracle.rule, p.oracle.broken)
	}
}

func (p *player) clock() string {
	text := p.truth().In(dublin).Format("Mon 2 Jan 15:04:05")
	if p.wrong != 0 {
		text += " (shown " + p.Now().Wall.In(dublin).Format("Mon 2 Jan 2006 15:04:05") + ")"
	}
	if !p.trusted {
		text += " (not trusted)"
	}
	return text
}

func (p *player) say(format string, args ...any) {
	p.Logf("%s  %s", p.clock(), fmt.Sprintf(format, args...))
}

// answer says what came of an act, and takes the turn after it.
func (p *player) answer(err error, format string, args ...any) bool {
	text := fmt.Sprintf(format, args...)
	if err != nil {
		p.say("%s: no: %v", text, err)
	} else {
		p.say("%s: yes", text)
	}
	return err == nil
}

func (p *player) play(s *step) {
	b := s.bench % len(p.tables)
	k := &p.oracle.benches[b]
	where := p.oracle.name(b)
	switch s.kind {
	case "pass":
		p.say("%s pass", s.span)
		p.live(s.span)
	case "to the next flood":
		p.toNext(b, s)
	case "to a phase":
		p.toPhase(b, s)
	case "dead":
		p.say("the pump of %s lifts nothing", where)
		p.tables[b].dead = true
	case "blocked":
		p.say("the drain of %s is blocked", where)
		p.tables[b].blocked = true
	case "high":
		p.say("HIGH of %s shows water", where)
		p.tables[b].high = true
		p.live(2 * time.Second)
	case "dry":
		p.say("the reservoir of %s is low", where)
		p.tables[b].low = true
	case "mend":
		p.say("%s is mended", where)
		p.mend(b)
	case "slow":
		p.storage.lag = lags[s.dice%len(lags)] + time.Duration(s.dice%5)*time.Second
		p.say("storage takes %s", p.storage.lag)
	case "gone":
		p.say("storage is gone")
		p.storage.gone = true
	case "stored":
		p.say("storage is back")
		p.storage.gone, p.storage.lag = false, 0
	default:
		if !p.playClock(s) && !p.playLife(s) {
			p.playAct(b, where, k, s)
		}
	}
	if p.oracle.broken == "" {
		p.turn()
	}
}

func (p *player) mend(b int) {
	k := &p.tables[b]
	k.dead, k.blocked, k.high, k.low = false, false, false, false
}

// toNext lets time pass up to about the next flood of a bench, as it is shown.
func (p *player) toNext(b int, s *step) {
	st := &p.oracle.status.Benches[b]
	about := []time.Duration{0, -30 * time.Minute, -time.Minute, -time.Second, time.Second, 30 * time.Second, 5 * time.Minute, 20 * time.Minute}[s.dice%8]
	if !st.HasNext {
		p.say("6h0m0s pass")
		p.live(6 * time.Hour)
		return
	}
	d := st.Next.Due.Sub(p.Now().Wall) + about
	if d <= 0 || d > 4*day {
		return
	}
	p.say("%s pass, to %s after a flood of %s is due", d, about, p.oracle.name(b))
	p.live(d)
}

// toPhase lets time pass until a bench is in a phase, for a day at most.
func (p *player) toPhase(b int, s *step) {
	phase := controller.Phase(1 + s.dice%4)
	p.liveUntil(p.elapsed+26*time.Hour, func() bool { return p.oracle.status.Benches[b].Phase == phase })
	p.live(time.Duration(s.dice/4) * time.Second)
	p.say("%s is %s", p.oracle.name(b), p.oracle.status.Benches[b].Phase)
}

// playClock plays what happens to the wall clock.
func (p *player) playClock(s *step) bool {
	switch s.kind {
	case "clock":
		by := strides[s.dice%len(strides)]
		if s.dice >= 2*len(strides) {
			by = -by
		}
		if s.dice%3 == 0 {
			p.trusted = false
		}
		if p.trusted && by.Abs() > 365*day {
			by = 3 * time.Hour
		}
		p.wrong += by
		p.say("the clock is set by %s", by)
	case "doubt":
		p.trusted = false
		p.say("the clock is no longer trusted")
	case "set right":
		p.wrong, p.trusted = 0, true
		p.say("the clock is set right and trusted")
	default:
		return false
	}
	return true
}

// playLife plays ends and starts of the program.
func (p *player) playLife(s *step) bool {
	switch s.kind {
	case "crash":
		d := min(s.span, time.Hour)
		p.say("the program crashes, for %s", d)
		p.crash(d)
	case "restart":
		d := min(s.span, 3*time.Hour)
		p.say("the program is stopped, for %s", d)
		p.restart(d)
	case "reload":
		if p.reload() {
			p.say("the file is read again")
		}
	case "cut":
		wrong, trusted := p.wrong, s.dice%2 == 0
		switch {
		case trusted:
			wrong = 0
		case s.dice%3 == 0:
			wrong = -365 * day
		case s.dice%3 == 1:
			wrong -= s.span // a clock that stood still
		}
		p.say("power is off for %s", s.span)
		p.cut(s.span, wrong, trusted)
	default:
		return false
	}
	return true
}

// heal has all that keeps water from the plants removed, and waits until every
// crop has to have been watered.
func (p *player) heal() {
	p.say("all is set right")
	p.storage.gone, p.storage.lag = false, 0
	for b := range p.tables {
		p.mend(b)
	}
	p.wrong, p.trusted = 0, true
	p.turn()
	p.play(&step{kind: "hands out"})
	p.live(time.Hour)
	for b := range p.tables {
		if !p.oracle.status.Benches[b].Sanitising.IsZero() {
			p.play(&step{kind: "rinsed", bench: b})
		}
		if p.oracle.status.Benches[b].Paused {
			p.play(&step{kind: "resume", bench: b})
		}
	}
	begun := p.elapsed
	for p.elapsed < begun+p.layout.canWait+day && p.oracle.broken == "" {
		for b := range p.tables {
			if len(p.oracle.status.Benches[b].Latched) > 0 {
				p.play(&step{kind: "reset", bench: b})
			}
		}
		p.live(2 * time.Hour)
	}
	p.storage.settle()
	p.oracle.settle()
	for b := range p.tables {
		k := &p.oracle.benches[b]
		wished := k.spoken && len(k.skips) > 0 // to have it dry
		if !wished && !k.closed.on && !k.closed.unsure && !k.murky && (!k.watered || p.elapsed-k.counted > p.layout.canWait+patience) {
			p.oracle.breaks("watered", "all was set right %s ago, and %s has not been watered for %s", p.elapsed-begun, p.oracle.name(b), p.elapsed-k.counted)
		}
	}
}
