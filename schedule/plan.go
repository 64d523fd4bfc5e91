package schedule

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Stage says how plants of one age are flooded.
type Stage struct {
	FromDay int // plant age in days since transplant from which it holds

	// When: exactly one of At, Cron and Spread is set.
	At     []TimeOfDay
	Cron   *Cron
	Spread int // floods a day, spread over the light hours; none on a date without light

	// Every is after how many days it floods again, with At and Spread, counted in
	// local days from the stage's first: 2 is every second day. 0 and 1 are every day.
	Every int

	Hold     time.Duration // how long the water stands at the crest
	Strength float64       // of the solution, 0 to 1 of full
	CanWait  time.Duration // the longest these plants stand between floods
}

// MostEvery is the most days from one day with floods to the next.
const MostEvery = 30

// apart is the time from one flood to the next as a mean; 0 where a cron
// expression says when.
func (s *Stage) apart() time.Duration {
	n := max(len(s.At), s.Spread)
	if n == 0 {
		return 0
	}
	return time.Duration(max(1, s.Every)) * 24 * time.Hour / time.Duration(n)
}

// Plan is a list of stages, ordered by FromDay.
type Plan struct {
	Name   string
	Stages []Stage
}

// StageAt returns the index of the stage in force at the given plant age in
// days; false before the first.
func (p Plan) StageAt(age int) (int, bool) {
	for i := len(p.Stages) - 1; i >= 0; i-- {
		if age >= p.Stages[i].FromDay {
			return i, true
		}
	}
	return 0, false
}

// Batch is a set of plants of one age on one bench.
type Batch struct {
	Name         string
	Plan         int  // index in Setup.Plans
	Bench        int  // index of the bench
	Transplanted Date // its day of age 0
	Closed       Date // the last day on the bench; 0 while it is open

	Asked    bool      // it enters a stage when a person says so, not by its age
	Passages []Passage // what a person said, by date
}

// Passage is a batch's entry into a stage by a person's word.
type Passage struct {
	On    Date `json:"on"`
	Stage int  `json:"stage"` // index in the plan
}

// StageOn returns the index of the stage of p that the batch is in on d; false
// when it is not on its bench or too young for its first. A word ahead of its
// age holds until its age has caught up, one behind it until its age would bring
// the stage after.
func (b Batch) StageOn(p Plan, d Date) (int, bool) {
	if !b.openOn(d) {
		return 0, false
	}
	byAge, begun := b.ByAge(p, d)
	last, told := b.passage(d)
	switch {
	case !told && b.Asked:
		return 0, begun
	case !told:
		return byAge, begun
	}
	stage := min(last.Stage, len(p.Stages)-1)
	then, _ := b.ByAge(p, last.On)
	switch {
	case b.Asked:
	case stage >= then:
		stage = max(stage, byAge)
	case byAge != then:
		stage = byAge
	}
	return stage, true
}

// ByAge returns the index of the stage of p that its age alone gives the batch
// on d; false before the first.
func (b Batch) ByAge(p Plan, d Date) (int, bool) { return p.StageAt(int(d - b.Transplanted)) }

// Entered returns the first of the days up to d on which the batch is in the stage
// of p that it is in on d, with no day in another between. Outside of any stage it
// is d.
func (b Batch) Entered(p Plan, d Date) Date {
	stage, in := b.StageOn(p, d)
	for in {
		first := b.lastTurn(p, d)
		if before, was := b.StageOn(p, first-1); !was || before != stage {
			return first
		}
		d = first - 1
	}
	return d
}

// lastTurn is the latest day up to d, on which the batch stands, on which its stage
// may have changed.
func (b Batch) lastTurn(p Plan, d Date) Date {
	turn := b.Transplanted
	for _, s := range p.Stages {
		if on := b.Transplanted.AddDays(s.FromDay); on <= d {
			turn = max(turn, on)
		}
	}
	if said, ok := b.passage(d); ok {
		turn = max(turn, said.On)
	}
	return turn
}

// passage is the last one up to d.
func (b Batch) passage(d Date) (last Passage, ok bool) {
	for _, p := range b.Passages {
		if p.On <= d {
			last, ok = p, true
		}
	}
	return last, ok
}

// openOn reports whether the batch stands on its bench on d.
func (b Batch) openOn(d Date) bool {
	return d >= b.Transplanted && d <= b.lastDay()
}

func (b Batch) lastDay() Date {
	if b.Closed == 0 {
		return math.MaxInt32
	}
	return b.Closed
}

func (p Plan) validate() error {
	if len(p.Stages) == 0 {
		return errors.New("it has no stages; give it at least one")
	}
	var errs []error
	for i, s := range p.Stages {
		if err := s.validate(); err != nil {
			errs = append(errs, fmt.Errorf("stage from day %d: %w", s.FromDay, err))
		}
		if i > 0 && s.FromDay <= p.Stages[i-1].FromDay {
			errs = append(errs, fmt.Errorf("stage from day %d overlaps the one before it, from day %d; give each stage a later day", s.FromDay, p.Stages[i-1].FromDay))
		}
	}
	return errors.Join(errs...)
}

func (s Stage) validate() error {
	switch {
	case s.FromDay < 0:
		return errors.New("plant age counts from 0, the day of transplant")
	case s.ways() != 1:
		return errors.New("give it exactly one of clock times, a cron expression and a number of floods")
	case s.Spread < 0 || s.Spread > maxSpread:
		return fmt.Errorf("%d floods a day: write 1 to %d", s.Spread, maxSpread)
	case s.Every < 0 || s.Every > MostEvery:
		return fmt.Errorf("every %d days: write 1 to %d", s.Every, MostEvery)
	case s.Every > 1 && s.Cron != nil:
		return errors.New("a cron expression says on which days it floods; every goes with clock times and a number of floods")
	case s.Hold <= 0:
		return fmt.Errorf("hold %v: write how long the water stands, more than 0", s.Hold)
	case s.CanWait <= 0:
		return fmt.Errorf("can_wait %v: write how long the plants stand without a flood, more than 0", s.CanWait)
	case !(s.Strength >= 0 && s.Strength <= 1):
		return fmt.Errorf("strength %v: write 0 to 1", s.Strength)
	}
	for _, t := range s.At {
		if t < 0 || t >= secondsPerDay {
			return fmt.Errorf("time of day %d s: write 00:00 to 23:59", t)
		}
	}
	return nil
}

// ways counts how many of the three ways of saying when are used.
func (s Stage) ways() int {
	n := 0
	for _, used := range []bool{len(s.At) > 0, s.Cron != nil, s.Spread != 0} {
		if used {
			n++
		}
	}
	return n
}
