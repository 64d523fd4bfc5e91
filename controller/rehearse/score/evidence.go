package score

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/sheet"
	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Evidence is all that people and program have of a bench: plain data, in which there
// is no way to the world that it came from.
type Evidence struct {
	File    string                 // with the errors of whoever wrote it
	Timed   map[string]sheet.Cycle // by bench, as by a stop watch
	From    schedule.Date          // of the record
	TopUps  []grow.Entry
	Weighed []controller.Weighing
	Stocks  []Stock
	Counted []controller.LastFlood // floods that counted
	Air     []Air                  // by a sensor, a day each from From on
}

// Air is a day by a sensor among the plants.
type Air struct {
	Low, High demand.Celsius
	Humidity  demand.Percent
}

// Stock is what the program takes a reservoir to hold.
type Stock struct {
	At     time.Time
	Litres float64
	Give   float64 // 9 in 10 lie so near to it
	Known  bool
}

// nine is how much narrower the span of 9 in 10 is than that of 19 in 20, by the
// normal curve.
const nine = 1.644854 / 1.959964

const (
	week    = 7  // days that a daily use is stated for
	settled = 21 // days of record at which all is stated that rests on one
)

// uses are the days of record at which the daily use is stated.
var uses = [...]struct {
	figure string
	days   int
}{{"daily use at 1 day", 1}, {"daily use at 7 days", 7}, {"daily use at 21 days", settled}}

// State states every figure that the evidence carries, by name.
func (e *Evidence) State() (map[string]Stated, error) {
	file, problems := config.Parse("bench.yaml", []byte(e.File))
	if err := problems.Err(); err != nil {
		return nil, err
	}
	site, err := file.WithCalibration(e.Timed)
	if err != nil {
		return nil, err
	}
	all := map[string]Stated{}
	ofSheet(all, " by file", file.Sheet(0))
	ofSheet(all, "", site.Sheet(0))
	for _, u := range uses {
		if err := e.use(all, site, u.figure, u.days); err != nil {
			return nil, err
		}
	}
	if w, ok := e.weighed(site.Zone); ok {
		litres, give := float64(w.Litres), nine*float64(w.Give)
		all["litres weighed"] = Stated{litres, litres - give, litres + give, true}
	}
	return all, e.dries(all, site)
}

// ofSheet states what a bench sheet does.
func ofSheet(all map[string]Stated, how string, s sheet.Sheet) {
	for _, f := range sheetFigures {
		all[f.name+how] = bare(f.of(&s))
		if span, ok := s.Spans[f.key]; ok {
			all[f.name+how] = Stated{f.of(&s), span[0], span[1], true}
		}
	}
}

// until is the midnight at which there are so many days of record.
func (e *Evidence) until(days int, zone *time.Location) (schedule.Date, time.Time) {
	on := e.From.AddDays(days)
	return on, on.At(0).In(zone)
}

// plants is the site as advice on its plants knows it at a time, with what was learnt
// by then.
func (e *Evidence) plants(site *config.Site, days int) (g *grow.Site, on []int, use grow.Use, err error) {
	if g, _, err = outlook.Plants(site); err != nil {
		return nil, nil, use, err
	}
	if _, err := g.Recall(e.weather(days)); err != nil {
		return nil, nil, use, err
	}
	_, now := e.until(days, site.Zone)
	var weighings []grow.Weighing
	for _, w := range e.Weighed {
		if w.At.Before(now) {
			weighings = append(weighings, weighing(w))
		}
	}
	var tops []grow.Entry
	for _, t := range e.TopUps {
		if t.At.Before(now) {
			tops = append(tops, t)
		}
	}
	for i := range g.Batches {
		on = append(on, i)
	}
	use, err = g.LearnFrom(on, grow.Pairs(weighings), tops, now, site.Zone)
	for i := range g.Batches {
		g.Batches[i].Demand.Scale = use.Scale
	}
	return g, on, use, err
}

// weather is the log of the sensor for so many days.
func (e *Evidence) weather(days int) (r demand.Records) {
	for i, a := range e.Air[:days] {
		date := time.Unix(int64(e.From.AddDays(i).At(0)), 0).UTC()
		r.Days = append(r.Days, demand.Record{Date: date, Day: demand.Day{
			YearDay: date.YearDay(), Low: a.Low, High: a.High, Humidity: demand.Known(a.Humidity),
		}})
	}
	return r
}

// weighing is one as the ledger keeps it.
func weighing(w controller.Weighing) grow.Weighing {
	if !w.Paired {
		return grow.Weighing{At: w.At}
	}
	gone := float64(w.Gone)
	return grow.Weighing{At: w.At, Gone: &gone}
}

// use states what the bench uses a day over the week to come, and at the last how long
// its reservoir lasts.
func (e *Evidence) use(all map[string]Stated, site *config.Site, figure string, days int) error {
	g, batches, use, err := e.plants(site, days)
	if err != nil {
		return err
	}
	from, now := e.until(days, site.Zone)
	daily, err := g.Daily(batches, use, from, week)
	if err != nil || daily.Litres <= 0 {
		return err
	}
	all[figure] = Stated{float64(daily.Litres), float64(daily.Low), float64(daily.High), true}
	if s, known := e.stock(now); days == settled && known {
		r, err := g.DaysLeft(batches, use, from, demand.Litres(s.Litres), demand.Litres(s.Give), outlook.Reserve(site, 0))
		all["days of water left"] = Stated{r.Days, r.Low, r.High, true}
		return err
	}
	return nil
}

// stock is what the program took the reservoir to hold at a time.
func (e *Evidence) stock(at time.Time) (last Stock, known bool) {
	for _, s := range e.Stocks {
		if s.At.After(at) {
			break
		}
		last = s
	}
	return last, last.Known
}

// weighed is the first weighing once the record is settled.
func (e *Evidence) weighed(zone *time.Location) (controller.Weighing, bool) {
	_, from := e.until(settled, zone)
	for _, w := range e.Weighed {
		if !w.At.Before(from) {
			return w, true
		}
	}
	return controller.Weighing{}, false
}

// dries states after how many hours the pots reach their limit, from the last flood
// of the settled record on.
func (e *Evidence) dries(all map[string]Stated, site *config.Site) error {
	flood, ok := e.lastFlood(site.Zone)
	batch := standing(site, e.From.AddDays(settled), thirsty)
	if !ok || batch < 0 {
		return nil
	}
	g, _, use, err := e.plants(site, settled)
	if err != nil {
		return err
	}
	r, err := g.PotsReach(batch, flood.Ended, 90*24*time.Hour, use, site.Zone)
	all["hour at which pots reach their limit"] = Stated{r.Lasts.Hours(), r.Low.Hours(), r.High.Hours(), true}
	return err
}

// lastFlood is the last one that counted in the settled record.
func (e *Evidence) lastFlood(zone *time.Location) (last controller.LastFlood, ok bool) {
	_, now := e.until(settled, zone)
	for _, f := range e.Counted {
		if f.Ended.Before(now) {
			last, ok = f, true
		}
	}
	return last, ok
}

// standing is the one batch that stands from the day before a date for so many days;
// -1 where there is none, or another beside it.
func standing(site *config.Site, from schedule.Date, days int) (batch int) {
	batch = -1
	for i, b := range site.Batches {
		if b.Transplanted > from.AddDays(days) || b.Closed != 0 && b.Closed < from.AddDays(-1) {
			continue
		}
		if batch >= 0 || b.Transplanted >= from.AddDays(-1) || b.Closed != 0 && b.Closed < from.AddDays(days) {
			return -1
		}
		batch = i
	}
	return batch
}
