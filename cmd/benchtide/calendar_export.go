package main

import (
	"fmt"
	"io"
	"time"

	ical "github.com/arran4/golang-ical"

	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/controller/web"
	"benchtide/schedule"
)

// object is the plan as JSON.
func (p *plan) object() web.Calendar {
	c := web.Calendar{From: p.from.String(), Days: p.days, Floods: []web.Planned{}, Conflicts: []web.Conflict{}}
	for i := range p.floods {
		c.Floods = append(c.Floods, plannedOf(p.site, &p.floods[i]))
	}
	for _, k := range p.conflicts {
		c.Conflicts = append(c.Conflicts, web.Conflict{
			Bench: p.site.Benches[k.Bench].Name, Kind: k.Kind.String(), From: k.From.String(), To: k.To.String(), Detail: k.Detail,
		})
	}
	return c
}

func plannedOf(site *config.Site, f *schedule.Planned) web.Planned {
	row := controller.RowOf(controller.Flood{HasSlot: true, Slot: f.Slot.Local, Due: f.Due}, []string{site.Benches[f.Slot.Bench].Name}, site.Zone)
	b := site.Batches[f.Batch]
	return web.Planned{
		Bench: row.Bench, Slot: row.Slot, Due: row.Due, Batch: b.Name, FromDay: site.Plans[b.Plan].Stages[f.Stage].FromDay,
		HoldS: f.Hold.Seconds(), Strength: f.Strength, CanWaitS: f.CanWait.Seconds(),
	}
}

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
		e.SetSummary("Flood " + p.bench(f))
		e.SetDescription(fmt.Sprintf("Hold %s at strength %s: %s.", quantity.Duration(f.Hold), strength(f), p.reason(f)))
		e.SetLocation(p.site.Name)
	}
	return c.SerializeTo(w, ical.WithNewLine("\r\n"))
}
