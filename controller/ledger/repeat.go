package ledger

import (
	"fmt"
	"time"

	"benchtide/safety"
)

// repeatWithin is how long after its first time an interlock that acts again on
// the same bench without latching is counted in the same row.
const repeatWithin = time.Hour

// latestTrip is the newest row of an interlock on a bench. Rows that are counted
// in one another are not far apart.
const latestTrip = `SELECT id FROM trips WHERE bench IS ?3 AND interlock = ?4 AND id > ?1 - 10000 ORDER BY id DESC LIMIT 1`

// countTrip counts a trip in the row before it, once. Whatever came between, a
// latched trip or a reset, begins a new row.
var countTrip = fmt.Sprintf(`UPDATE trips SET times = times + 1, last = ?2, counted = ?1,
	sum = row_sum(id, at, bench, interlock, act, latched, detail, times + 1, ?2, ?1)
	WHERE id = (%s) AND act = 'tripped' AND NOT latched AND ?2 - at BETWEEN 0 AND %d AND id < ?1 AND counted < ?1`, latestTrip, repeatWithin.Milliseconds())

// addTrip adds a trip that was not counted.
const addTrip = `INSERT INTO trips (id, at, bench, interlock, act, latched, detail, sum) SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ` + newTripSum + `
	WHERE NOT EXISTS (SELECT 1 FROM trips WHERE bench IS ?3 AND interlock = ?4 AND id > ?1 - 10000 AND counted >= ?1)
	ON CONFLICT (id) DO NOTHING`

// repeats makes r one that is counted in the row before it where that tells the
// same.
func (r row) repeats(e *safety.Event) row {
	if e.Kind == safety.Tripped && !e.Latched {
		r.count, r.insert, r.again = countTrip, addTrip, true
	}
	return r
}

// countArgs is how many of a row's values, its number first, countTrip takes.
const countArgs = 4
