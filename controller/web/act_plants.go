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

func (a *API) sanitise(w http.ResponseWriter, r *http.Request) error {
	q, b, name, err := asked[SanitiseRequest](w, r, a.bench)
	if err != nil {
		return err
	}
	if err := a.Site.Sanitise(r.Context(), b, q.By); err != nil {
		return ofPause(err)
	}
	reply(w, Done{
		fmt.Sprintf("%s floods by hand alone until rinsed is confirmed, and so does every bench on its reservoir; the crop clock goes on", name),
		&Undo{"rinsed", SanitiseRequest{Bench: name}, "confirm that all is rinsed"},
	})
	return nil
}

func (a *API) rinsed(w http.ResponseWriter, r *http.Request) error {
	q, b, name, err := asked[SanitiseRequest](w, r, a.bench)
	if err != nil {
		return err
	}
	if err := a.Site.Rinsed(r.Context(), b, q.By); err != nil {
		return ofStart(err)
	}
	reply(w, Done{
		name + ": floods start again by themselves; the next one is a new baseline and is reported in detail, better watch it",
		&Undo{"sanitise", SanitiseRequest{Bench: name}, "go on sanitising"},
	})
	return nil
}

func (a *API) advance(w http.ResponseWriter, r *http.Request) error {
	q, b, name, err := asked[AdvanceRequest](w, r, a.batch)
	if err != nil {
		return err
	}
	before, err := a.Site.Status(r.Context())
	if err != nil {
		return err
	}
	from, err := a.Site.Advance(r.Context(), b, q.FromDay)
	if err != nil {
		return ofStart(err)
	}
	done := Done{Done: fmt.Sprintf("%s is in its stage from day %d from now on", name, from)}
	if was := before.Batches[b].Stage; was != nil {
		done.Undo = &Undo{"advance", AdvanceRequest{name, was}, fmt.Sprintf("go back to the stage from day %d", *was)}
	}
	reply(w, done)
	return nil
}

func (a *API) closeBatch(w http.ResponseWriter, r *http.Request) error {
	q, b, name, err := asked[CloseRequest](w, r, a.batch)
	if err != nil {
		return err
	}
	now, err := a.now(r)
	if err != nil {
		return err
	}
	last, done := schedule.CivilIn(now, a.Zone).Date().AddDays(-1), name+" is closed: nothing floods for it any more"
	switch {
	case q.Reopen:
		last, done = 0, name+" is open again, as the file has it"
	case q.LastDay != "":
		if last, err = schedule.ParseDate(q.LastDay); err != nil {
			return live.Invalid{Reason: "last_day: " + err.Error()}
		}
		done = fmt.Sprintf("%s stands on its bench until %s, and nothing floods for it after that day", name, last)
	}
	if err := a.Site.CloseBatch(r.Context(), b, last); err != nil {
		return ofPause(err)
	}
	answer := Done{Done: done}
	if !q.Reopen {
		answer.Undo = reopen(name)
	}
	reply(w, answer)
	return nil
}

func reopen(batch string) *Undo {
	return &Undo{"close", CloseRequest{Batch: batch, Reopen: true}, "take it back"}
}

func (a *API) empty(w http.ResponseWriter, r *http.Request) error {
	_, b, name, err := asked[BenchRequest](w, r, a.bench)
	if err != nil {
		return err
	}
	gone, err := a.Site.Empty(r.Context(), b)
	if err != nil {
		return ofPause(err)
	}
	done := Done{Done: fmt.Sprintf("%s is empty and does not flood by itself; closed: %s", name, listed(gone))}
	if len(gone) == 1 {
		done.Undo = reopen(gone[0])
	}
	reply(w, done)
	return nil
}

// batch finds a batch by name; where there is only one, it may go unnamed.
func (a *API) batch(name string) (int, string, error) { return find("batch", name, a.batchNames()) }

func (a *API) batchNames() (names []string) {
	for _, b := range a.Facts.Batches {
		names = append(names, b.Name)
	}
	return names
}
