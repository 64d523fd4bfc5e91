package grow

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/schedule"
	"benchtide/schedule/demand"
)

// Mark is how one item of a check stands.
type Mark int

// The marks.
const (
	Fine   Mark = iota
	Wrong       // something has to be done first
	Asked       // only a person can tell, and has not
	Unread      // the record that would tell is not at hand
)

func (m Mark) String() string { return [...]string{"fine", "wrong", "asked", "unread"}[m] }

// Item is one item of the check, with its reason.
type Item struct {
	Name   string
	Mark   Mark
	Reason string
}

// Away is an absence and all that is known of the site before it.
type Away struct {
	Site       *Site
	Benches    []AwayBench
	Reservoirs []AwayReservoir
	Zone       *time.Location
	From       schedule.Date
	Until      schedule.Date // the day of return
	Record     *Record       // nil when it cannot be read
	Rehearsed  Rehearsed     // the days away in the hottest weather, with nobody there
	Confirmed  []string      // what a person has seen to, by the keys of ByHand
}

// AwayBench is a bench as its sheet has it.
type AwayBench struct {
	Name       string
	Reservoir  int
	Fill, Fall time.Duration
	High       bool // fitted
}

// AwayReservoir is a reservoir; Reserve is what one flood takes with what is
// never drawn.
type AwayReservoir struct {
	Name            string
	Usable, Reserve demand.Litres
	Low             bool // a low switch is fitted
}

// Rehearsed is what a rehearsal of the days away came to.
type Rehearsed struct {
	Spilled demand.Litres
	Broken  []string  // invariants
	Lowest  []float64 // by batch: share of what a pot holds; above 1 where it did not stand
}

// ByHand are the items that no record can tell, by the key with which a person
// confirms them.
var ByHand = []struct{ Key, Name string }{
	{"rcd", "Residual-current device tested within 30 days"},
	{"messages", "A test message was answered by both phones"},
	{"heartbeat", "The outside watcher has seen the controller today"},
	{"heating", "Heating is set and has fuel, and nothing can freeze"},
	{"vents", "Vents open and close without a hand, and shade is up"},
	{"water-closed", "Taps and hoses that could run without end are closed"},
	{"spare", "A spare pump lies ready, and the neighbour has the sheet"},
	{"watched", "One whole flood was watched today"},
}

// Check goes through the going-away check.
func (a *Away) Check() []Item {
	items := []Item{a.water(), a.needs(), a.rehearsed(), a.stages(), a.clock()}
	for _, r := range recorded {
		if a.Record == nil {
			items = append(items, Item{r.name, Unread, "no daemon answered, so its record could not be read"})
			continue
		}
		fine, wrong := r.look(a)
		items = append(items, judged(r.name, fine, wrong))
	}
	for _, h := range ByHand {
		item := Item{h.Name, Fine, "confirmed"}
		if !slices.Contains(a.Confirmed, h.Key) {
			item.Mark, item.Reason = Asked, "see to it, then confirm "+h.Key+a.expects(h.Key)
		}
		items = append(items, item)
	}
	return items
}

// expects is the air that has to be reckoned with while nobody is there, where a key
// of ByHand asks for it.
func (a *Away) expects(key string) string {
	coldest, hottest := a.Site.extremes(a.From, a.Until)
	taken := ""
	if a.Site.AssumedLine {
		taken = ", as taken without site.climate"
	}
	switch key {
	case "heating":
		text := "; nights down to " + a.Site.celsius(coldest) + taken
		for i, b := range a.Site.Batches {
			if _, cold := a.Site.Chill(i, a.From, a.Until); cold {
				text += fmt.Sprintf(", and cold below about %s hurts %s", a.Site.celsius(WarmthOf(b.Grows).Cold), a.Site.Called.Batch(b.Name))
			}
		}
		return text
	case "vents":
		return "; days up to " + a.Site.celsius(hottest) + taken
	}
	return ""
}

// judged is fine without reasons against it.
func judged(name, fine string, wrong []string) Item {
	if len(wrong) > 0 {
		return Item{name, Wrong, strings.Join(wrong, "; ")}
	}
	return Item{name, Fine, fine}
}
