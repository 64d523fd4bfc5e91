package ledger

import (
	"database/sql"
	"errors"
	"maps"
	"slices"
	"time"
)

// putFlood changes no column that is indexed: that would write another page.
const putFlood = `INSERT INTO floods (id, bench, slot, due, cause, attempt, hold, strength, started, ended,
	outcome, reason, fill, stood, fall, run, litres, counted, unrecorded, watched, intended)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
	ON CONFLICT (id) DO UPDATE SET cause = excluded.cause, attempt = excluded.attempt, hold = excluded.hold, strength = excluded.strength,
	started = excluded.started, ended = excluded.ended, outcome = excluded.outcome, reason = excluded.reason,
	fill = excluded.fill, stood = excluded.stood, fall = excluded.fall, run = excluded.run, litres = excluded.litres,
	counted = excluded.counted, unrecorded = excluded.unrecorded, watched = excluded.watched,
	intended = excluded.intended`

func (s *store) putFloods(a *attempt, b *batch) error {
	for _, id := range slices.Sorted(maps.Keys(b.floods)) {
		f := b.floods[id]
		var slot any
		if f.HasSlot {
			slot = f.Slot.String()
		}
		if err := a.put(putFlood, f.ID, f.bench, slot, f.Due.UnixMilli(), string(f.Cause), f.Attempt, f.Hold.Milliseconds(), f.Strength,
			instant(f.Started), instant(f.Ended), orNull(string(f.Outcome)), f.Reason,
			span(f.Fill), span(f.Stood), span(f.Fall), span(f.Run), float64(f.Litres), f.Counted, f.Unrecorded, f.Watched, f.Intended); err != nil {
			return err
		}
	}
	return nil
}

func (s *store) putRows(a *attempt, b *batch) error {
	for i := range b.rows {
		r := &b.rows[i]
		if r.number == 0 {
			s.number++
			r.number = s.number
		}
		args := append([]any{r.number}, r.args...)
		if r.count != "" {
			if err := a.put(r.count, args[:countArgs]...); err != nil {
				return err
			}
		}
		if err := a.put(r.insert, args...); err != nil {
			return err
		}
	}
	return nil
}

const putRun = `INSERT INTO outputs (date, output, run, starts) VALUES (?, ?, ?, ?)
	ON CONFLICT (date, output) DO UPDATE SET run = excluded.run, starts = excluded.starts`

// putRuns stores totals, not gains, so that a second try cannot count twice.
func (s *store) putRuns(a *attempt, b *batch) error {
	for k, gain := range b.runs {
		total, err := s.total(a, k)
		if err != nil {
			return err
		}
		total.on += gain.on
		total.starts += gain.starts
		if err := a.put(putRun, k.date, k.output, total.on.Milliseconds(), total.starts); err != nil {
			return err
		}
		a.totals[k] = total
	}
	return nil
}

func (s *store) total(a *attempt, k dayOutput) (run, error) {
	if r, ok := s.totals[k]; ok {
		return r, nil
	}
	var ms int64
	var r run
	err := a.QueryRow("SELECT run, starts FROM outputs WHERE date = ? AND output = ?", k.date, k.output).Scan(&ms, &r.starts)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	if err != nil {
		return run{}, err
	}
	r.on = time.Duration(ms) * time.Millisecond
	s.totals[k] = r // whatever becomes of this try, the next one counts from here
	return r, nil
}

// putCheckpoint stores the parts that have changed.
func (s *store) putCheckpoint(a *attempt, b *batch) error {
	if b.checkpoint != nil {
		parts, err := b.checkpoint.parts()
		if err != nil {
			return err
		}
		a.parts = parts
	}
	if a.parts == nil { // nothing was ever handed over
		return nil
	}
	var d deflater
	for part, data := range a.parts {
		if s.stored[part] == data {
			continue
		}
		if err := a.put("INSERT INTO checkpoint (part, data, sum) VALUES (?, ?, ?) ON CONFLICT (part) DO UPDATE SET data = excluded.data, sum = excluded.sum", part, d.part(data), partSum(part, data)); err != nil {
			return err
		}
	}
	for part := range s.stored {
		if _, kept := a.parts[part]; kept {
			continue
		}
		if err := a.put("DELETE FROM checkpoint WHERE part = ?", part); err != nil {
			return err
		}
	}
	return nil
}
