package controller

import (
	"fmt"
	"math"
	"time"

	"benchtide/schedule"
)

// Row is a flood as the ledger shows it. Times are local, RFC 3339 with their
// offset, to the second. Started, Ended, FillS and FallS are nil for what did
// not happen or is not known.
type Row struct {
	ID      int64    `json:"id"`
	Bench   string   `json:"bench"`
	Slot    string   `json:"slot"` // what the clock on the wall was to show; of a flood without a slot its start
	Due     string   `json:"due"`
	Cause   Cause    `json:"cause"`
	Attempt int      `json:"attempt"`
	Started *string  `json:"started"`
	Ended   *string  `json:"ended"`
	Outcome Outcome  `json:"outcome"` // empty while the flood is under way
	Reason  string   `json:"reason"`
	FillS   *float64 `json:"fill_s"` // pump start to FULL made, last attempt
	FallS   *float64 `json:"fall_s"` // pump stop to FULL clear, last attempt
	Litres  float64  `json:"litres"` // pumped until FULL, all attempts
	Pumped  float64  `json:"pumped"` // litres in all, most of which ran home over the standpipe while FULL stood
}

// RowOf shows flood f, with the benches' names in order and the site's zone.
func RowOf(f Flood, benches []string, zone *time.Location) Row {
	return Row{
		ID: f.ID, Bench: benches[f.Bench], Slot: slotText(&f, zone), Due: Stamp(f.Due, zone),
		Cause: f.Cause, Attempt: f.Attempt,
		Started: StampOrNil(f.Started, zone), Ended: StampOrNil(f.Ended, zone),
		Outcome: f.Outcome, Reason: f.Reason,
		FillS: secondsOrNil(f.Fill), FallS: secondsOrNil(f.Fall), Litres: tenth(float64(f.Litres)), Pumped: tenth(float64(f.Pumped())),
	}
}

// stampLayout is RFC 3339 to the second, its offset in figures also in UTC.
const stampLayout = "2006-01-02T15:04:05-07:00"

// Stamp prints an instant as a wall clock in zone shows it, with its offset.
func Stamp(t time.Time, zone *time.Location) string { return t.In(zone).Format(stampLayout) }

// StampOrNil is Stamp, and nil for no time at all.
func StampOrNil(t time.Time, zone *time.Location) *string {
	if t.IsZero() {
		return nil
	}
	s := Stamp(t, zone)
	return &s
}

// Instant reads a stamp; one that is none is the zero time.
func Instant(stamp string) time.Time {
	t, _ := time.Parse(time.RFC3339, stamp)
	return t
}

func slotText(f *Flood, zone *time.Location) string {
	if !f.HasSlot {
		if f.Started.IsZero() {
			return Stamp(f.Due, zone)
		}
		return Stamp(f.Started, zone)
	}
	return SlotStamp(f.Slot, zone)
}

// SlotStamp keeps the figures of a slot even where the zone skips them: then
// with the offset from before the gap.
func SlotStamp(slot schedule.Civil, zone *time.Location) string {
	at := slot.In(zone).In(zone)
	if schedule.CivilIn(at, zone) != slot {
		at = at.Add(-time.Second)
	}
	_, offset := at.Zone()
	return time.Unix(int64(slot)-int64(offset), 0).In(time.FixedZone("", offset)).Format(stampLayout)
}

// SlotOf reads what SlotStamp prints.
func SlotOf(stamp string) (schedule.Civil, error) {
	at, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return 0, fmt.Errorf("read the slot %q: write it as the status has it, such as \"2026-03-12T15:00:00+00:00\"", stamp)
	}
	return schedule.CivilIn(at, at.Location()), nil
}

func secondsOrNil(d time.Duration) *float64 {
	if d == 0 {
		return nil
	}
	s := tenth(d.Seconds())
	return &s
}

func tenth(x float64) float64 { return math.Round(x*10) / 10 }
