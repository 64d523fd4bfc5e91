package ledger

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/safety"
)

// sumsSince is the first version of the schema whose rows carry checksums.
const sumsSince = 5

// ledgerText is what people know the ledger by.
const ledgerText = "the ledger (" + fileName + ")"

// testify reads what a database says of the guard's state. What cannot be read
// is left out and told in the witness's fault: the rest counts.
func testify(db *sql.DB) *witness {
	w := &witness{what: ledgerText, there: true}
	v, err := version(db)
	if err == nil {
		err = errors.Join(w.readParts(db, v >= sumsSince, v >= deflatedSince), w.readTrips(db, v >= sumsSince), w.readCommissioning(db, v >= sumsSince))
	}
	w.fault = err
	return w
}

func (w *witness) readParts(db *sql.DB, summed, deflated bool) error {
	sum := "0"
	if summed {
		sum = "coalesce(sum, -1)"
	}
	rows, err := db.Query("SELECT part, data, " + sum + " FROM checkpoint")
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var part string
		var raw []byte
		var sum int64
		if err := rows.Scan(&part, &raw, &sum); err != nil {
			return err
		}
		data := string(raw)
		if deflated {
			if data, err = inflatePart(raw); err != nil {
				w.hurt = append(w.hurt, part)
				continue
			}
		}
		if !summed { // from before checksums: it counts as whole
			sum = partSum(part, data)
		}
		w.take(part, data, sum)
	}
	return rows.Err()
}

// doubt takes out the benches' parts that no program can have written. A file from
// before checksums has nothing else that tells: a latch whose key one damaged byte
// has renamed would be read as no latch.
func (w *witness) doubt() {
	for part, data := range w.parts {
		if !strings.HasPrefix(part, benchPart) {
			continue
		}
		var both struct{ Guard, Controller json.RawMessage }
		if strict(data, &both) != nil || strict(string(both.Guard), new(safety.BenchState)) != nil {
			delete(w.parts, part)
			w.hurt = append(w.hurt, part)
		}
	}
	slices.Sort(w.hurt)
}

// strict reads JSON that has no key but those of into, and is there.
func strict(data string, into any) error {
	d := json.NewDecoder(strings.NewReader(data))
	d.DisallowUnknownFields()
	return d.Decode(into)
}

// good is the rest of a query of the rows of a table that pass their checksum,
// in the order of recording; those that fail are counted.
func (w *witness) good(db *sql.DB, table string, sums bool) (string, error) {
	if !sums {
		return " FROM " + table + " ORDER BY id", nil
	}
	var bad int
	if err := db.QueryRow("SELECT count(*) FROM " + damagedRows(table)).Scan(&bad); err != nil {
		return "", err
	}
	if bad > 0 {
		w.spoil(table, bad)
	}
	return fmt.Sprintf(" FROM %s WHERE sum IS row_sum(id, %s) ORDER BY id", table, summed[table]), nil
}

// readTrips works out what the trips of each bench come to.
func (w *witness) readTrips(db *sql.DB, sums bool) error {
	from, err := w.good(db, "trips", sums)
	if err != nil {
		return err
	}
	rows, err := db.Query("SELECT coalesce(bench, ''), interlock, act, latched, detail" + from)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }()
	w.latches = make(map[string]latchState)
	for rows.Next() {
		var bench, act string
		t := safety.Trip{Latched: true}
		var latched bool
		if err := rows.Scan(&bench, &t.Interlock, &act, &latched, &t.Detail); err != nil {
			return err
		}
		s := w.latches[bench]
		switch {
		case bench == "":
			continue
		case act == controller.GuardAct(safety.ResetEvent) || act == controller.GuardAct(safety.Dropped):
			s = latchState{}
		case act == controller.GuardAct(safety.WeldProven):
			s.weld = true
		case latched:
			s.latched = union(s.latched, []safety.Trip{t})
		}
		w.latches[bench] = s
	}
	return rows.Err()
}

func (w *witness) readCommissioning(db *sql.DB, sums bool) error {
	from, err := w.good(db, "commissioning", sums)
	if err != nil {
		return err
	}
	rows, err := db.Query("SELECT " + commissioning.columns + from)
	if err != nil {
		return err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		c, err := commissioning.scan(rows, time.UTC)
		if err != nil {
			return err
		}
		if !json.Valid(c.Data) { // of a row from before checksums: nothing that goes on from it could be written
			w.spoil("commissioning", 1)
			continue
		}
		w.commissioned = append(w.commissioned, c)
	}
	return rows.Err()
}

// spoil notes rows that are left out.
func (w *witness) spoil(table string, rows int) {
	if w.spoilt == nil {
		w.spoilt = make(map[string]int)
	}
	w.spoilt[table] += rows
}

// lookForRows notes whether nothing was recorded in a file from before checksums,
// which began without a checkpoint.
func (w *witness) lookForRows(db *sql.DB) error {
	w.blank = len(w.parts) == 0 && len(w.hurt) == 0
	var rows int
	err := db.QueryRow("SELECT (SELECT count(*) FROM floods) + (SELECT count(*) FROM trips)").Scan(&rows)
	w.blank = w.blank && rows == 0
	return err
}

// peekVersion is the version of the schema of a file that is not open.
func peekVersion(path string) (int, error) {
	db, err := peek(path)
	if err != nil {
		return 0, err
	}
	defer func() { _ = db.Close() }()
	return version(db)
}

// salvage reads what it can of a file that is not open.
func salvage(path string) *witness {
	w := &witness{what: ledgerText, there: there(path) || there(path+beside[0])}
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return w
	}
	db, err := peek(path)
	if err != nil {
		w.fault = err
		return w
	}
	defer func() { _ = db.Close() }()
	return testify(db)
}

// there reports whether a file is there, or may be.
func there(path string) bool {
	_, err := os.Lstat(path)
	return !missing(err)
}
