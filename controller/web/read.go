package web

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"benchtide/controller"
	"benchtide/controller/live"
	"benchtide/schedule"
)

// Bounds of what one request may ask for.
const (
	usualRows   = 1000
	mostRows    = 50_000
	usualDays   = 7
	mostDays    = 3653 // ten years
	mostOutlook = 60
	usualSeries = "30 d"
	longReply   = 10 * time.Minute // for what is as long as the record
)

func (a *API) status(w http.ResponseWriter, r *http.Request) error {
	st, err := a.Site.Status(r.Context())
	if err != nil {
		return err
	}
	a.answer(w, st)
	return nil
}

func (a *API) benches(w http.ResponseWriter, _ *http.Request) error {
	a.answer(w, a.Facts)
	return nil
}

func (a *API) ledger(w http.ResponseWriter, r *http.Request) error {
	return list(a, w, r, a.Record.Floods, func(rows []controller.Row) any { return Floods{rows, a.Facts.Called} })
}

func (a *API) trips(w http.ResponseWriter, r *http.Request) error {
	return list(a, w, r, a.Record.Trips, func(rows []live.Trip) any { return Trips{rows} })
}

func (a *API) diary(w http.ResponseWriter, r *http.Request) error {
	return list(a, w, r, a.Record.Diary, func(rows []live.DiaryEntry) any { return Diary{rows, a.Facts.Units, a.Facts.Called} })
}

// list answers with rows of the record, as the object that they are shown in.
func list[R any](a *API, w http.ResponseWriter, r *http.Request, read func(context.Context, live.Query) ([]R, error), shown func([]R) any) error {
	q, err := a.rows(r)
	if err != nil {
		return err
	}
	rows, err := read(r.Context(), q)
	if err != nil {
		return err
	}
	a.answer(w, shown(rows))
	return nil
}

func (a *API) calendar(w http.ResponseWriter, r *http.Request) error {
	values, err := parameters(r, "from", "days")
	if err != nil {
		return err
	}
	days, err := number(values, "days", usualDays, mostDays)
	if err != nil {
		return err
	}
	var from schedule.Date
	if text := values.Get("from"); text != "" {
		if from, err = schedule.ParseDate(text); err != nil {
			return live.Invalid{Reason: "from: " + err.Error()}
		}
	} else {
		now, err := a.now(r)
		if err != nil {
			return err
		}
		from = schedule.CivilIn(now, a.Zone).Date()
	}
	var c live.Calendar
	a.seats.take(func() { c, err = a.Site.Calendar(from, days) })
	if err != nil {
		return err
	}
	a.answer(w, c)
	return nil
}

func (a *API) export(w http.ResponseWriter, r *http.Request) error {
	q, err := a.query(r, "", "table", "format")
	if err != nil {
		return err
	}
	table, format := cmp.Or(r.FormValue("table"), "floods"), cmp.Or(r.FormValue("format"), "csv")
	w.Header().Set("Content-Type", map[string]string{"csv": "text/csv; charset=utf-8", "jsonl": "application/jsonl"}[format])
	return stream(w, func(w io.Writer) error { return a.Record.Export(r.Context(), w, table, format, q) })
}

func (a *API) backup(w http.ResponseWriter, r *http.Request) error {
	if _, err := parameters(r); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/vnd.sqlite3")
	return stream(w, func(w io.Writer) error { return a.Record.Backup(r.Context(), w) })
}

// stream writes a reply that may be long. An error after its first byte breaks
// the reply off, so that nobody takes a part for the whole.
func stream(w http.ResponseWriter, write func(io.Writer) error) error {
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(longReply)) // a server that cannot has its own
	c := &counted{w: w}
	err := write(c)
	if err != nil && c.n > 0 {
		panic(http.ErrAbortHandler)
	}
	return err
}

type counted struct {
	w io.Writer
	n int
}

func (c *counted) Write(p []byte) (int, error) {
	n, err := c.w.Write(p)
	c.n += n
	return n, err
}

// rows reads bench, since and limit.
func (a *API) rows(r *http.Request) (live.Query, error) {
	q, err := a.query(r, "", "limit")
	if err != nil {
		return q, err
	}
	q.Limit, err = number(r.URL.Query(), "limit", usualRows, mostRows)
	return q, err
}

// query reads bench and since, and leaves more to its caller. Since is the
// usual one when it is not given.
func (a *API) query(r *http.Request, usual string, more ...string) (live.Query, error) {
	values, err := parameters(r, append([]string{"bench", "since"}, more...)...)
	if err != nil {
		return live.Query{}, err
	}
	q := live.Query{Bench: values.Get("bench")}
	if q.Bench != "" && !a.knows(q.Bench) {
		return q, live.Invalid{Reason: "bench: " + a.noPlace(q.Bench)}
	}
	since := cmp.Or(values.Get("since"), usual)
	if since == "" {
		return q, nil
	}
	now, err := a.now(r)
	if err != nil {
		return q, err
	}
	if q.Since, err = parseTime(since, now, a.Zone, -1); err != nil {
		return q, live.Invalid{Reason: "since: " + err.Error()}
	}
	return q, nil
}

// now is the site's wall clock.
func (a *API) now(r *http.Request) (time.Time, error) {
	st, err := a.Site.Status(r.Context())
	if err != nil {
		return time.Time{}, err
	}
	return time.Parse(time.RFC3339, st.At)
}

// parameters refuses what a path does not know: a misspelt one would otherwise
// answer another question than was asked.
func parameters(r *http.Request, known ...string) (url.Values, error) {
	values, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return nil, live.Invalid{Reason: "the parameters cannot be read: " + err.Error()}
	}
	for key := range values {
		if !slices.Contains(known, key) {
			return nil, live.Invalid{Reason: fmt.Sprintf("%s: there is no such parameter here; there are %s", key, listed(known))}
		}
	}
	return values, nil
}

func number(values url.Values, key string, usual, most int) (int, error) {
	text := values.Get(key)
	if text == "" {
		return usual, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		return 0, live.Invalid{Reason: fmt.Sprintf("%s: %q: write a whole number from 1 to %d", key, text, most)}
	}
	return n, nil
}
