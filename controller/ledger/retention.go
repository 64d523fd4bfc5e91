package ledger

import "fmt"

// ring is a table that keeps its newest rows and lets older ones go.
type ring struct {
	table string
	key   string // the column that orders it
	rows  int
	among string // which rows count
	where string // which of these may go
}

// pruneEvery is how many new rows are written between two prunings.
const pruneEvery = 256

// tables lists the tables whose id counts all rows.
var tables = []string{"events", "trips", "pauses", "proof_tests", "commissioning", "stages", "weighings", "diary", "settings"}

// passingTrip is a trip that did not latch. However often one interlock acts, it
// pushes no latched trip and no reset out, and of these the newest of each kind
// stays in any case.
const passingTrip = "(act = 'tripped' AND NOT latched)"

// rings says how many rows a site of the given benches and outputs keeps. At
// eight floods a day 20,000 floods are seven years and 15,000 events more than
// two months.
func rings(benches, outputs, floods, events, others int) []ring {
	benches, outputs = max(benches, 1), max(outputs, 1)
	list := []ring{
		{"floods", "id", floods * benches, "true", "outcome IS NOT NULL"},
		{"events", "id", events * benches, "true", "true"},
		{"outputs", "date", 10 * 366 * outputs, "true", "true"},
		{"trips", "id", others * benches, passingTrip, "true"},
		{"trips", "id", others * benches, "NOT " + passingTrip, "id NOT IN (SELECT max(id) FROM trips GROUP BY bench, interlock, act)"},
	}
	for _, t := range tables[1:] {
		if t != "trips" {
			list = append(list, ring{t, "id", others * benches, "true", "true"})
		}
	}
	return list
}

// prune lets the oldest rows go, now and then.
func (s *store) prune(a *attempt, b *batch) error {
	if s.added+len(b.rows)+len(b.floods) < pruneEvery {
		return nil
	}
	for _, r := range s.keep {
		del := fmt.Sprintf("DELETE FROM %[1]s WHERE %[2]s < (SELECT %[2]s FROM %[1]s WHERE %[3]s ORDER BY %[2]s DESC LIMIT 1 OFFSET ?) AND %[3]s AND %[4]s", r.table, r.key, r.among, r.where)
		if err := a.put(del, r.rows-1); err != nil {
			return err
		}
	}
	a.pruned = true
	return nil
}
