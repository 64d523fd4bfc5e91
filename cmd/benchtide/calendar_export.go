package main

import (
	"fmt"
	"io"
	"time"

	ical "github.com/arran4/golang-ical"

	"benchtide/controller"
	"benchtide/controller/quantity"
)

// object is the plan as JSON.
func (p *plan) object() any {
	type flood struct {
		Bench    string  `json:"bench"`
		Slot     string  `json:"slot"`
		Due      string  `json:"due"`
		Batch    string  `json:"batch"`
		FromDay  int     `json:"stage_from_day"`
		HoldS    float64 `json:"hold_s"`
		Strength float64 `json:"strength"`
		CanWaitS float64 `json:"can_wait_s"`
	}
	type conflict struct {
		Bench  string `json:"bench"`
		Kind   string `json:"kind"`
		From   string `json:"from"`
		To     string `json:"to"`
		Detail string `json:"detail"`
	}
	floods, conflicts := []flood{}, []conflict{}
	benches := namesOf(p.site).benches
	for i := range p.floods {
		f := &p.floods[i]
		row := controller.RowOf(controller.Flood{Bench: f.Slot.Bench, HasSlot: true, Slot: f.Slot.Local, Due: f.Due}, benches, p.site.Zone)
		b := p.site.Batches[f.Batch]
		floods = append(floods, flood{
			row.Bench, row.Slot, row.Due, b.Name, p.site.Plans[b.Plan].Stages[f.Stage].FromDay,
			f.Hold.Seconds(), f.Strength, f.CanWait.Seconds(),
		})
	}
	for _, c := range p.conflicts {
		conflicts = append(conflicts, conflict{benches[c.Bench], c.Kind.String(), c.From.String(), c.To.String(), c.Detail})
	}
	return struct {
		From      string     `json:"from"`
		Days      int        `json:"days"`
		Floods    []flood    `json:"floods"`
		Conflicts []conflict `json:"conflicts"`
	}{p.from.String(), p.days, floods, conflicts}
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
