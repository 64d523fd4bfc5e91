package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"benchtide/controller/live"
)

// Done is the answer to an act: what happens now, in words, and by which act it
// can be ended or undone.
type Done struct {
	Done string `json:"done"`
	Undo *Undo  `json:"undo"` // null when there is nothing to undo
}

// Undo is an act that ends or undoes another.
type Undo struct {
	Act   string `json:"act"` // its path
	Body  any    `json:"body"`
	Words string `json:"words"`
}

// FloodRequest asks for a flood by hand.
type FloodRequest struct {
	Bench string  `json:"bench"`
	HoldS float64 `json:"hold_s"` // 0 means that of the day's stage
	Proof bool    `json:"proof"`  // whoever asks has made sure that nobody works in the bench; needed from far
}

// BenchRequest is an act on one bench.
type BenchRequest struct {
	Bench string `json:"bench"`
}

// PauseRequest keeps automatic floods off until a time; without a bench on
// every bench.
type PauseRequest struct {
	Bench string `json:"bench"`
	Until string `json:"until"` // as parseTime reads it
	By    string `json:"by"`
}

// HandsInRequest begins or ends hands-in.
type HandsInRequest struct {
	On    *bool `json:"on"`
	Proof bool  `json:"proof"` // as of a flood; needed from far to end it
}

// ResetRequest releases the trips of a bench.
type ResetRequest struct {
	Bench string `json:"bench"`
	Found string `json:"found"`
}

// DiaryRequest adds to the diary.
type DiaryRequest struct {
	At     string   `json:"at"` // as parseTime reads it; now when empty
	Place  string   `json:"place"`
	Kind   string   `json:"kind"`
	Value  *float64 `json:"value"`
	Amount string   `json:"amount"` // the value with its unit, as people write it: "5 gal", "72 F"; in place of value
	Text   string   `json:"text"`
	Sure   bool     `json:"sure"` // the questions about it are answered: it is right
}

// act makes the handler of an act from what it does with its request.
func act[Q any](do func(*http.Request, Q) (Done, error)) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		q, err := body[Q](w, r)
		if err != nil {
			return err
		}
		done, err := do(r, q)
		if err != nil {
			return err
		}
		reply(w, done)
		return nil
	}
}

// actOn makes the handler of an act on a bench, a batch or a reservoir, which find
// finds by its name.
func actOn[Q interface{ about() string }](find func(string) (int, string, error), do func(r *http.Request, q Q, i int, name string) (Done, error)) handler {
	return act(func(r *http.Request, q Q) (Done, error) {
		i, name, err := find(q.about())
		if err != nil {
			return Done{}, err
		}
		return do(r, q, i, name)
	})
}

func (q FloodRequest) about() string { return q.Bench }
func (q BenchRequest) about() string { return q.Bench }
func (q ResetRequest) about() string { return q.Bench }

func (a *API) flood(r *http.Request, q FloodRequest, b int, name string) (Done, error) {
	if !(q.HoldS >= 0 && q.HoldS <= math.MaxInt32) {
		return Done{}, live.Invalid{Reason: fmt.Sprintf("hold_s: %v: write the hold in seconds, 0 for that of the day's stage", q.HoldS)}
	}
	err := a.Site.Flood(r.Context(), b, time.Duration(q.HoldS*float64(time.Second)), asker(r, q.Proof))
	return Done{a.Facts.Called.Bench(name) + " floods once; it ends by itself, and stop ends it sooner", &Undo{"stop", BenchRequest{name}, "stop it"}}, ofStart(err)
}

// stop is for everybody at any time: nothing stands before it.
func (a *API) stop(r *http.Request, _ BenchRequest, b int, name string) (Done, error) {
	err := a.Site.Stop(r.Context(), b, asker(r, false))
	return Done{Done: a.Facts.Called.Bench(name) + ": the flood is stopped; the pump is off, what is on the table drains, and nothing that waited starts"}, ofStop(err)
}

func (a *API) pause(r *http.Request, q PauseRequest) (Done, error) {
	benches, name, err := a.someOrAll(q.Bench)
	if err != nil {
		return Done{}, err
	}
	_, until, err := a.until(r, q.Until)
	if err != nil {
		return Done{}, err
	}
	return Done{
		fmt.Sprintf("%s: no automatic flood until %s; the crop clock goes on", name, until.In(a.Zone).Format(dayAndTime)),
		&Undo{"resume", BenchRequest{q.Bench}, "end the pause"},
	}, ofPause(a.Site.Pause(r.Context(), benches, until, q.By))
}

func (a *API) resume(r *http.Request, q BenchRequest) (Done, error) {
	benches, name, err := a.someOrAll(q.Bench)
	if err == nil && q.Bench == "" {
		benches, err = a.paused(r)
	}
	if err != nil {
		return Done{}, err
	}
	return Done{Done: name + ": floods start again by themselves"}, ofStart(a.Site.Resume(r.Context(), benches))
}

// paused lists the benches that are.
func (a *API) paused(r *http.Request) (list []int, err error) {
	st, err := a.Site.Status(r.Context())
	if err != nil {
		return nil, err
	}
	for i := range st.Benches {
		if st.Benches[i].PausedUntil != nil {
			list = append(list, i)
		}
	}
	if len(list) == 0 {
		return nil, live.Refused{Reason: "no bench is paused"}
	}
	return list, nil
}

func (a *API) handsIn(r *http.Request, q HandsInRequest) (Done, error) {
	if q.On == nil {
		return Done{}, live.Invalid{Reason: `on: write true to begin hands-in, false to end it`}
	}
	err := a.Site.HandsIn(r.Context(), *q.On, asker(r, q.Proof))
	switch {
	case err != nil && *q.On:
		return Done{}, ofStop(err)
	case err != nil:
		return Done{}, ofStart(err)
	}
	st, _ := a.Site.Status(r.Context()) // it is done, whether or not the button can be asked
	return handsInDone(*q.On, st.HandsIn), nil
}

func handsInDone(asked, is bool) Done {
	off, on := false, true
	switch {
	case asked:
		return Done{"hands-in: every pump is off, and nothing starts until it is ended", &Undo{"hands-in", HandsInRequest{On: &off}, "end hands-in"}}
	case is:
		return Done{Done: "hands-in is ended here, but its button is still pressed: nothing starts"}
	}
	return Done{"hands-in is ended: floods start again by themselves", &Undo{"hands-in", HandsInRequest{On: &on}, "begin hands-in again"}}
}

func (a *API) reset(r *http.Request, q ResetRequest, b int, name string) (Done, error) {
	if strings.TrimSpace(q.Found) == "" {
		return Done{}, live.Invalid{Reason: "found: say what was found, such as: leaf in the standpipe"}
	}
	on := true
	return Done{
		a.Facts.Called.Bench(name) + " is reset; its next flood is reported in detail, better watch it",
		&Undo{"hands-in", HandsInRequest{On: &on}, "keep every pump off"},
	}, ofStart(a.Site.Reset(r.Context(), b, q.Found))
}

func (a *API) drop(r *http.Request, q ResetRequest) (Done, error) {
	switch {
	case strings.TrimSpace(q.Bench) == "":
		return Done{}, live.Invalid{Reason: "bench: name the one that left the file"}
	case strings.TrimSpace(q.Found) == "":
		return Done{}, live.Invalid{Reason: "found: say what became of it, such as: taken down"}
	}
	return Done{Done: q.Bench + " is dropped: nothing is kept of it but its history"}, ofStart(a.Site.Drop(r.Context(), q.Bench, q.Found))
}

func (a *API) addDiary(r *http.Request, q DiaryRequest) (Done, error) {
	if q.Place != "" && !a.knows(q.Place) {
		return Done{}, live.Invalid{Reason: "place: " + a.noPlace(q.Place)}
	}
	now, err := a.now(r)
	if err != nil {
		return Done{}, err
	}
	at := now
	if q.At != "" {
		if at, err = parseTime(q.At, now, a.Zone, -1); err != nil {
			return Done{}, live.Invalid{Reason: "at: " + err.Error()}
		}
	}
	value, err := live.ValueOf(q.Kind, q.Value, q.Amount)
	if err != nil {
		return Done{}, err
	}
	err = a.Record.AddDiary(r.Context(), live.Note{At: at, Place: q.Place, Kind: q.Kind, Value: value, Text: q.Text, Sure: q.Sure, Now: now})
	return Done{Done: "written into the diary"}, err
}

// bench finds a bench by name; where there is only one, it may go unnamed.
func (a *API) bench(name string) (int, string, error) {
	return find("bench", name, a.benchNames(), a.Facts.Called.Benches)
}

// find finds a thing of a kind by its name; the only one may go unnamed.
func find(kind, name string, names []string, titles map[string]string) (int, string, error) {
	if name == "" && len(names) == 1 {
		return 0, names[0], nil
	}
	i := slices.Index(names, name)
	switch {
	case i >= 0:
		return i, name, nil
	case name == "":
		return 0, "", live.Invalid{Reason: fmt.Sprintf("%s: say which one of %s", kind, listed(names))}
	}
	return 0, "", live.Invalid{Reason: kind + ": " + unknown(name, names, titles)}
}

// unknown says what is right in place of a name that is none; who wrote a title
// gets its name.
func unknown(name string, names []string, titles ...map[string]string) string {
	for _, of := range titles {
		if i := slices.IndexFunc(names, func(n string) bool { return of[n] != "" && strings.EqualFold(of[n], name) }); i >= 0 {
			return fmt.Sprintf("there is no %q; its name is %s", name, names[i])
		}
	}
	return fmt.Sprintf("there is no %q; there are %s", name, listed(names))
}

// someOrAll finds one bench by name, or all without a name, and what people call
// them.
func (a *API) someOrAll(name string) (some []int, called string, err error) {
	if name != "" {
		b, name, err := a.bench(name)
		return []int{b}, a.Facts.Called.Bench(name), err
	}
	var all []string
	for i, b := range a.Facts.Benches {
		some, all = append(some, i), append(all, a.Facts.Called.Bench(b.Name))
	}
	return some, listed(all), nil
}

func (a *API) benchNames() (names []string) {
	for _, b := range a.Facts.Benches {
		names = append(names, b.Name)
	}
	return names
}

// knows reports whether there is a bench, batch or reservoir of this name.
func (a *API) knows(place string) bool {
	return slices.Contains(a.benchNames(), place) || slices.Contains(a.batchNames(), place) || slices.ContainsFunc(a.Facts.Reservoirs, func(r live.ReservoirFacts) bool { return r.Name == place })
}

// noPlace says what is right in place of a name that neither a bench nor a
// reservoir nor a batch has.
func (a *API) noPlace(name string) string {
	names := a.benchNames()
	for _, r := range a.Facts.Reservoirs {
		names = append(names, r.Name)
	}
	return unknown(name, append(names, a.batchNames()...), a.Facts.Called.Benches, a.Facts.Called.Reservoirs, a.Facts.Called.Batches)
}

func listed(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}
