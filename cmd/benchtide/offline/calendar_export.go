package offline

import (
	"fmt"
	"io"
	"time"

	ical "github.com/arran4/golang-ical"

	"benchtide/controller/quantity"
)

// writeICS writes the plan as iCalendar (RFC 5545). A flood keeps its UID, so
// that a later export takes its place; its end is when the table is bare again.
func (p *plan) writeICS(w io.Writer, now time.Time) error {
	c := ical.NewCalendar()
	c.SetProductId("-//benchtide//benchtide//EN")
	c.SetXWRCalName(p.site.Name)
	for i := range p.floods {
		f := &p.floods[i]
		sheet := p.site.Sheet(f.Slot.Bench)
		e := c.AddEvent(fmt.Sprintf("%s-%s@benchtide", p.bench(f), f.Slot.Local))
		e.SetDtStampTime(now)
		e.SetStartAt(f.Due)
		e.SetEndAt(f.Due.Add(sheet.Fill + f.Hold + sheet.Drain))
		e.SetSummary("Flood " + p.site.Titles.Bench(p.bench(f)))
		e.SetDescription(fmt.Sprintf("Hold %s at strength %s: %s.", quantity.Duration(f.Hold), strength(f), p.reason(f)))
		e.SetLocation(p.site.Name)
	}
	return c.SerializeTo(w, ical.WithNewLine("\r\n"))
}
