package web

import (
	"net/http"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/schedule"
)

// SkipRequest leaves out a flood of a bench, or takes that back.
type SkipRequest struct {
	Bench string `json:"bench"`
	Slot  string `json:"slot"` // as the status has it; empty means the next flood, or to undo the last skip
}

func (q SkipRequest) about() string { return q.Bench }

func (q SkipRequest) slot() (schedule.Civil, error) {
	if q.Slot == "" {
		return 0, nil
	}
	slot, err := controller.SlotOf(q.Slot)
	if err != nil {
		return 0, live.Invalid{Reason: err.Error()}
	}
	return slot, nil
}

func (a *API) skipNext(r *http.Request, q SkipRequest, b int, name string) (Done, error) {
	slot, err := q.slot()
	if err != nil {
		return Done{}, err
	}
	p, err := a.Site.SkipNext(r.Context(), b, slot)
	if err != nil {
		return Done{}, ofPause(err)
	}
	now, err := a.now(r)
	undo := &Undo{"flood", FloodRequest{Bench: name}, "flood by hand instead"}
	if err == nil && controller.Instant(p.Due).After(now) {
		undo = &Undo{"undo-skip", SkipRequest{name, orEmpty(p.Slot)}, "undo"}
	}
	return Done{a.Facts.Called.Bench(name) + " leaves out " + skippedWords(&p) + "; the crop clock goes on", undo}, nil
}

func (a *API) undoSkip(r *http.Request, q SkipRequest, b int, name string) (Done, error) {
	slot, err := q.slot()
	if err != nil {
		return Done{}, err
	}
	p, err := a.Site.UndoSkip(r.Context(), b, slot)
	return Done{a.Facts.Called.Bench(name) + ": " + skippedWords(&p) + " comes as planned", &Undo{"skip-next", SkipRequest{name, orEmpty(p.Slot)}, "skip it again"}}, ofStart(err)
}

// skippedWords names the flood. While floods follow elapsed time the clock is not
// trusted, and there is no date to name it by.
func skippedWords(p *live.SkippedFlood) string {
	if p.Slot == nil {
		return "the next flood by elapsed time"
	}
	return "the flood of " + controller.Instant(*p.Slot).Format(dayAndTime)
}

func orEmpty(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
