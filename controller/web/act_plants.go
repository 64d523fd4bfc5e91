package web

import (
	"fmt"
	"net/http"

	"benchtide/controller/live"
	"benchtide/schedule"
)

// SanitiseRequest begins sanitising, or confirms that all is rinsed.
type SanitiseRequest struct {
	Bench string `json:"bench"`
	By    string `json:"by"`
}

// AdvanceRequest has a batch enter a stage of its plan today.
type AdvanceRequest struct {
	Batch   string `json:"batch"`
	FromDay *int   `json:"stage_from_day"` // as the plan has it; the one that is due, else the next, without it
}

// CloseRequest takes a batch off its bench.
type CloseRequest struct {
	Batch   string `json:"batch"`
	LastDay string `json:"last_day"` // a date; without it its floods stop at once
	Reopen  bool   `json:"reopen"`   // takes an earlier word back
}

func (q SanitiseRequest) about() string { return q.Bench }
func (q AdvanceRequest) about() string  { return q.Batch }
func (q CloseRequest) about() string    { return q.Batch }

func (a *API) sanitise(r *http.Request, q SanitiseRequest, b int, name string) (Done, error) {
	return Done{
		fmt.Sprintf("%s floods by hand alone until rinsed is confirmed, and so does every bench on its reservoir; the crop clock goes on", a.Facts.Called.Bench(name)),
		&Undo{"rinsed", SanitiseRequest{Bench: name}, "confirm that all is rinsed"},
	}, ofPause(a.Site.Sanitise(r.Context(), b, q.By))
}

func (a *API) rinsed(r *http.Request, q SanitiseRequest, b int, name string) (Done, error) {
	return Done{
		a.Facts.Called.Bench(name) + ": floods start again by themselves; the next one is a new baseline and is reported in detail, better watch it",
		&Undo{"sanitise", SanitiseRequest{Bench: name}, "go on sanitising"},
	}, ofStart(a.Site.Rinsed(r.Context(), b, q.By))
}

func (a *API) advance(r *http.Request, q AdvanceRequest, b int, name string) (Done, error) {
	before, err := a.Site.Status(r.Context())
	if err != nil {
		return Done{}, err
	}
	from, err := a.Site.Advance(r.Context(), b, q.FromDay)
	done := Done{Done: fmt.Sprintf("%s is in its stage from day %d from now on", a.Facts.Called.Batch(name), from)}
	if was := before.Batches[b].Stage; was != nil {
		done.Undo = &Undo{"advance", AdvanceRequest{name, was}, fmt.Sprintf("go back to the stage from day %d", *was)}
	}
	return done, ofStart(err)
}

func (a *API) closeBatch(r *http.Request, q CloseRequest, b int, name string) (Done, error) {
	now, err := a.now(r)
	if err != nil {
		return Done{}, err
	}
	last, done := schedule.CivilIn(now, a.Zone).Date().AddDays(-1), Done{a.Facts.Called.Batch(name) + " is closed: nothing floods for it any more", reopen(name)}
	switch {
	case q.Reopen:
		last, done = 0, Done{Done: a.Facts.Called.Batch(name) + " is open again, as the file has it"}
	case q.LastDay != "":
		if last, err = schedule.ParseDate(q.LastDay); err != nil {
			return Done{}, live.Invalid{Reason: "last_day: " + err.Error()}
		}
		done.Done = fmt.Sprintf("%s stands on its bench until %s, and nothing floods for it after that day", a.Facts.Called.Batch(name), last)
	}
	return done, ofPause(a.Site.CloseBatch(r.Context(), b, last))
}

func reopen(batch string) *Undo {
	return &Undo{"close", CloseRequest{Batch: batch, Reopen: true}, "take it back"}
}

func (a *API) empty(r *http.Request, _ BenchRequest, b int, name string) (Done, error) {
	gone, err := a.Site.Empty(r.Context(), b)
	var called []string
	for _, batch := range gone {
		called = append(called, a.Facts.Called.Batch(batch))
	}
	done := Done{Done: fmt.Sprintf("%s is empty and does not flood by itself; closed: %s", a.Facts.Called.Bench(name), listed(called))}
	if len(gone) == 1 {
		done.Undo = reopen(gone[0])
	}
	return done, ofPause(err)
}

// batch finds a batch by name; where there is only one, it may go unnamed.
func (a *API) batch(name string) (int, string, error) {
	return find("batch", name, a.batchNames(), a.Facts.Called.Batches)
}

func (a *API) batchNames() (names []string) {
	for _, b := range a.Facts.Batches {
		names = append(names, b.Name)
	}
	return names
}
