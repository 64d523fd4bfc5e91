package ledger

import "fmt"

// ring is a table that keeps its newest rows and lets older ones go.
type ring struct {
	table string
	key   string // the column that orders it
	rows  int
	where string // which rows may go
}

// pruneEvery is how many new rows are written between two prunings.
const pruneEvery = 256

// tables lists the tables whose id counts all rows.
var tables = []string{"events", "trips", "pauses", "proof_tests", "commissioning", "stages", "diary", "settings"}

// rings says how many rows a site of the given benches and outputs keeps. At
// eight floods a day 20,000 floods are seven years and 15,000 events more than
// two months.
func rings(benches, outputs, floods, events, others int) []ring {
	benches, outputs = max(benches, 1), max(outputs, 1)
	list := []ring{
		{"floods", "id", floods * benches, "outcome IS NOT NULL"},
		{"events", "id", events * benches, "true"},
		{"outputs", "date", 10 * 366 * outputs, "true"},
	}
	for _, t := range tables[1:] {
		list = append(list, ring{t, "id", others * benches, "true"})
	}
	return list
}

// prune lets the oldest rows go, now and then.
func (s *store) prune(a *attempt, b *batch) error {
	if s.added+len(b.rows)+len(b.floods) < pruneEvery {
		return nil
	}
	for _, r := range s.keep {
		del := fmt.Sprintf("DELETE FROM %[1]s WHERE %[2]s < (SELECT %[2]s FROM %[1]s ORDER BY %[2]s DESC LIMIT 1 OFFSET ?) AND %[3]s", r.table, r.key, r.where)
		if err := a.put(del, r.rows-1); err != nil {
			return err
		}
	}
	a.pruned = true
	return nil
}
