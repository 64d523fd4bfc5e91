package grow

import (
	"fmt"
	"reflect"
	"slices"
	"time"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Verdict is how what is planned for a batch stands to what it needs.
type Verdict int

// The verdicts.
const (
	Fits     Verdict = iota
	Seldom           // too few floods: pots would fall below their limit on hot days
	Uneven           // enough floods, too far apart or too short
	Often            // more floods than the hottest days need
	Unplaced         // it stands on its bench and no stage floods it
	Beyond           // no number of floods with any hold up to three times as long is enough
)

func (v Verdict) String() string {
	return [...]string{"fits", "too-seldom", "uneven", "too-often", "no-floods", "beyond-floods"}[v]
}

// Advice is what a batch needs over consecutive dates, and the stage that would
// give it.
type Advice struct {
	From, To schedule.Date
	Age      int // of the plants on From, days since transplant
	Verdict  Verdict
	Planned  int            // floods a day, of a stage that leaves days out on those that it does not
	Needed   int            // floods a day that keep the pots above their limit on the hottest days
	Every    int            // on every how many days one does, where one a day is more than that; else 1
	Stage    schedule.Stage // that would fix it, from Age on; the planned one where it fits
	Words    string
}

// spare is what advice allows for plants that use more than is worked out
// (judgement, no source; see demand.Learn for the way to do better).
const spare = 1.2

// uneven is how far, as a share of what a pot holds, floods may fall short of
// those spread evenly over the light, as round clock times do.
const uneven = 0.02

// Advise goes through the days of a batch and says over which of them its floods
// fit and which stage would fit better. It looks a week ahead, so that a stage
// comes before it is needed and none for a day or two.
func (s *Site) Advise(batch int, from schedule.Date, days int) ([]Advice, error) {
	b := &s.Batches[batch]
	first, last := max(from, b.Transplanted), from.AddDays(days-1)
	if b.Closed != 0 {
		last = min(last, b.Closed)
	}
	var wants []want
	for d := first; d <= last; d++ {
		w, err := s.want(b, d)
		if err != nil {
			return nil, fmt.Errorf("advise on %s: %w", b.Name, err)
		}
		wants = append(wants, w)
	}
	lookAhead(wants)
	var all []Advice
	for i := 0; i < len(wants); {
		end := i + 1
		for end < len(wants) && wants[end].like(wants[i]) {
			end++
		}
		a, err := s.advice(batch, first.AddDays(i), first.AddDays(end-1), wants[i], all)
		if err != nil {
			return nil, fmt.Errorf("advise on %s: %w", b.Name, err)
		}
		all, i = append(all, a), end
	}
	return all, nil
}

// want is what a batch needs and gets on one date.
type want struct {
	floods int // 0: none suffices
	seldom int // on every how many days one is enough, where one a day is
	hold   time.Duration

	own     int // its stage by its own plan; -1 without one
	placed  bool
	planned schedule.Planned
	perDay  int
	every   int // after how many days those come again: 1 is every day
}

func (w want) like(o want) bool {
	return w.floods == o.floods && w.seldom == o.seldom && w.hold == o.hold && w.own == o.own && w.placed == o.placed && w.perDay == o.perDay &&
		w.every == o.every && w.planned.Batch == o.planned.Batch && w.planned.Stage == o.planned.Stage && w.planned.Hold == o.planned.Hold
}

// longerHolds are how many times longer a hold is tried where no number of
// floods suffices.
var longerHolds = [...]time.Duration{1, 2, 3}

func (s *Site) want(b *Batch, d schedule.Date) (want, error) {
	weather, err := s.Weather(d, Hottest)
	if err != nil {
		return want{}, err
	}
	w := want{own: -1}
	if k, ok := b.StageOn(s.Plans[b.Plan], d); ok {
		w.own = k
	}
	w.planned, w.placed = s.Calendar.Governs(b.Bench, d)
	w.perDay, w.every = w.planned.PerDay, 1
	if w.placed {
		if st := s.sets(&w); st.Every > 1 {
			w.perDay, w.every = perDay(*st, d), st.Every
		}
	}
	hold := w.planned.Hold
	if !w.placed {
		hold = s.Plans[b.Plan].Stages[0].Hold
	}
	thirsty := b.thirsty()
	for _, times := range longerHolds {
		n, err := thirsty.Need(b.age(d), s.contact(b, times*hold), weather)
		if err != nil {
			return want{}, err
		}
		w.floods, w.seldom, w.hold = n.Floods, n.Every, times*hold
		if n.Floods > 0 {
			break
		}
	}
	return w, nil
}

const ahead = 7 // days

// lookAhead gives each date the most floods and the longest hold of its week.
func lookAhead(wants []want) {
	for i := range wants {
		for _, w := range wants[i:min(i+ahead, len(wants))] {
			if w.floods == 0 || wants[i].floods == 0 {
				wants[i].floods = 0
			}
			if w.planned.Hold == wants[i].planned.Hold {
				wants[i].hold = max(wants[i].hold, w.hold)
			}
			if wants[i].floods > 0 {
				wants[i].floods, wants[i].seldom = max(wants[i].floods, w.floods), min(wants[i].seldom, w.seldom)
			}
		}
	}
}

func (s *Site) advice(batch int, from, to schedule.Date, w want, before []Advice) (Advice, error) {
	b := &s.Batches[batch]
	a := Advice{From: from, To: to, Age: b.age(from), Planned: w.perDay, Needed: w.floods, Every: w.seldom}
	var err error
	if a.Verdict, err = s.verdict(b, from, to, w); err != nil {
		return a, err
	}
	a.Stage = s.stage(b, w)
	a.Stage.FromDay = a.Age
	if a.Verdict != Fits && a.Verdict != Beyond {
		if err := s.better(batch, &a, w, s.lastFlood(b, from, before)); err != nil {
			return a, err
		}
	}
	a.Words = s.words(b, &a)
	return a, nil
}

// stage is that of the batch's own plan: what a shared bench withholds from it is no
// part of a plan. Before its first one it is that.
func (s *Site) stage(b *Batch, w want) schedule.Stage {
	return s.Plans[b.Plan].Stages[max(0, w.own)]
}

// sets is the stage that sets the times of a day on which one does.
func (s *Site) sets(w *want) *schedule.Stage {
	return &s.Plans[s.Batches[w.planned.Batch].Plan].Stages[w.planned.Stage]
}

// verdict counts floods where they come every day. Where a stage leaves days out,
// the water in the pots alone shows whether they suffice.
func (s *Site) verdict(b *Batch, from, to schedule.Date, w want) (Verdict, error) {
	switch {
	case w.floods == 0:
		return Beyond, nil
	case !w.placed || w.perDay == 0:
		return Unplaced, nil
	case w.perDay < w.floods && w.every == 1:
		return Seldom, nil
	}
	c, err := s.course(b, Hottest, spare*max(1, b.Demand.Scale), max(b.Transplanted, from.AddDays(-settles)), from, int(to-from)+1,
		s.repeated(b, from, to, w.every))
	switch {
	case err != nil:
		return 0, err
	case c.Lowest < float64(b.Demand.Pot.Threshold()/b.Demand.Pot.Holds())-uneven:
		return Uneven, nil
	case w.often() && s.Batches[w.planned.Batch].Name == b.Name:
		return Often, nil
	}
	return Fits, nil
}

// often reports whether more is planned than is needed.
func (w want) often() bool {
	if w.floods > 1 || w.every > 1 {
		return w.perDay > w.floods && w.every == 1
	}
	return w.perDay > 1 || w.seldom > 1
}

// repeated is the floods of a span of dates, with those of its first date, or of as
// many as lie between those with floods, also on the days before it: a stage is
// judged by itself.
func (s *Site) repeated(b *Batch, from, to schedule.Date, every int) []schedule.Planned {
	floods := s.floodsOn(b.Bench, from, to.AddDays(1))
	var before []schedule.Planned
	for _, f := range floods {
		on := f.Slot.Local.Date()
		if on >= from.AddDays(every) {
			break
		}
		for n := every; n <= settles+every; n += every {
			earlier := f
			earlier.Slot.Local = on.AddDays(-n).At(f.Slot.Local.TimeOfDay())
			before = append(before, earlier)
		}
	}
	return append(before, floods...)
}

// better makes a stage of clock times in the middle of equal parts of the light.
// They can wait at least as long as the longest night lets them, that after the
// last flood of the stage before it included, and else no longer than their pots last.
func (s *Site) better(batch int, a *Advice, w want, last schedule.TimeOfDay) error {
	b := &s.Batches[batch]
	weather, err := s.Weather(a.From, Hottest)
	if err != nil {
		return err
	}
	a.Stage.At, a.Stage.Cron, a.Stage.Spread, a.Stage.Every = spreadOver(weather.Shine, w.floods), nil, 0, 0
	if w.seldom > 1 {
		a.Stage.Every = w.seldom
	}
	a.Stage.Hold = max(a.Stage.Hold, w.hold)
	need, err := b.Demand.Need(a.Age, s.contact(b, w.hold), weather)
	if err != nil {
		return err
	}
	gap := max(longestGap(a.Stage.At), longestGap([]schedule.TimeOfDay{a.Stage.At[0], last})) + time.Duration(w.seldom-1)*24*time.Hour
	a.Stage.CanWait = max(gap+3*time.Hour/2, min(a.Stage.CanWait, need.Lasts)).Truncate(time.Hour)
	lasts, err := s.lastsAfter(batch, a)
	wait := min(a.Stage.CanWait, lasts)
	a.Stage.CanWait = wait.Truncate(time.Hour)
	if least := gap + time.Hour/2; a.Stage.CanWait < least {
		a.Stage.CanWait = max(least, wait.Truncate(time.Hour/4))
	}
	return err
}

// lastsAfter is how long the pots last after the last flood of a day of the stage that
// is advised, on the last of its days, when the plants are largest, or the first.
func (s *Site) lastsAfter(batch int, a *Advice) (time.Duration, error) {
	most := a.Stage.CanWait
	for _, d := range [...]schedule.Date{a.From, a.To} {
		lasts, err := s.PotsLast(batch, d.At(slices.Max(a.Stage.At)).In(time.UTC).Add(a.Stage.Hold), a.Stage.Hold, most, 1, time.UTC)
		if err != nil {
			return 0, err
		}
		most = min(most, lasts)
	}
	return most, nil
}

// lastFlood is the time of day of the last flood before a date, with advice
// followed; midday where there was none.
func (s *Site) lastFlood(b *Batch, d schedule.Date, before []Advice) schedule.TimeOfDay {
	if n := len(before); n > 0 && len(before[n-1].Stage.At) > 0 {
		return slices.Max(before[n-1].Stage.At)
	}
	last := schedule.TimeOfDay(12 * 3600)
	for _, f := range s.floodsOn(b.Bench, d.AddDays(-1), d) {
		last = f.Slot.Local.TimeOfDay()
	}
	return last
}

// spreadOver is n times of day, to the quarter of an hour.
func spreadOver(light demand.Shine, n int) []schedule.TimeOfDay {
	const quarter = 15 * time.Minute
	if light.Set <= light.Rise {
		light = demand.ShineFor(8)
	}
	var times []schedule.TimeOfDay
	for i := range n {
		at := light.Rise + (light.Set-light.Rise)*time.Duration(2*i+1)/time.Duration(2*n)
		times = append(times, schedule.TimeOfDay(at.Round(quarter)/time.Second))
	}
	return slices.Compact(times)
}

// longestGap is the longest wait between times of day that come every day.
func longestGap(times []schedule.TimeOfDay) time.Duration {
	longest := times[0] + wholeDay - times[len(times)-1]
	for i := 1; i < len(times); i++ {
		longest = max(longest, times[i]-times[i-1])
	}
	return time.Duration(longest) * time.Second
}

// Follow is a plan with advice on one of its batches followed: from the first
// to the last date of the advice its stages are those advised, the last of which
// goes on until the plan's next.
func Follow(plan schedule.Plan, advice []Advice) schedule.Plan {
	if len(advice) == 0 {
		return plan
	}
	last := advice[len(advice)-1]
	begin, end := advice[0].Age, last.Age+int(last.To-last.From)
	followed := schedule.Plan{Name: plan.Name}
	for _, st := range plan.Stages {
		if st.FromDay < begin {
			followed.Stages = append(followed.Stages, st)
		}
	}
	for _, a := range advice {
		followed.Stages = append(followed.Stages, a.Stage)
	}
	for _, st := range plan.Stages {
		if st.FromDay > end {
			followed.Stages = append(followed.Stages, st)
		}
	}
	followed.Stages = slices.CompactFunc(followed.Stages, goesOn)
	return followed
}

// goesOn reports whether b only says again what a says.
func goesOn(a, b schedule.Stage) bool {
	b.FromDay = a.FromDay
	return reflect.DeepEqual(a, b)
}
