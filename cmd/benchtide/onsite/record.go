// Package onsite is what is at hand where a real bench stands, for the daemon and
// for whoever works there without it: the board's wiring, the record in the state
// directory, and what commissioning found.
package onsite

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"benchtide/controller/commission"
	"benchtide/controller/config"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
)

// Record keeps commissioning in the ledger.
type Record struct {
	Ctx    context.Context
	Ledger *ledger.Ledger
	Zone   *time.Location
}

// Add writes an entry, waiting for storage for ledger.Grace at most.
func (r Record) Add(e commission.Entry) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Ctx), ledger.Grace) // also what ends the dialogue goes on record
	defer cancel()
	return r.Ledger.Add(ctx, ledger.Commissioning{
		At: ledger.When{Time: e.At.In(r.Zone)}, What: e.What, Place: e.Place, Fingerprint: e.Fingerprint, Data: e.Data,
	})
}

// Entries reads them all, oldest first.
func (r Record) Entries() ([]commission.Entry, error) {
	rows, err := r.Ledger.Commissioning(r.Ctx, ledger.Query{})
	return EntriesOf(rows), err
}

// EntriesOf are rows of the ledger as commissioning knows them.
func EntriesOf(rows []ledger.Commissioning) (all []commission.Entry) {
	for _, r := range rows {
		all = append(all, commission.Entry{At: r.At.Time, What: r.What, Place: r.Place, Fingerprint: r.Fingerprint, Data: r.Data})
	}
	return all
}

// RecordOptions are what the record of a site is opened with. A site whose file
// has another name than before, and the same benches on the same lines, is the
// same site.
func RecordOptions(dir string, site *config.Site) ledger.Options {
	o := ledger.Options{Limits: site.Limits(), Zone: site.Zone, Site: site.Name}
	before, err := os.ReadFile(filepath.Join(dir, ledger.SettingsName))
	if err != nil {
		return o
	}
	old, problems := config.Parse(ledger.SettingsName, before)
	if problems.Err() == nil && reflect.DeepEqual(old.Limits().Outputs, o.Limits.Outputs) && slices.Equal(old.BenchNames(), site.BenchNames()) {
		o.Formerly = []string{old.Name}
	}
	return o
}

// FoundOf is what a person has to know of the record, in sentences.
func FoundOf(r ledger.Recovered) []string {
	all := slices.Clone(r.Found)
	if r.SetAside != "" {
		all = append(all, fmt.Sprintf("The ledger was set aside as %s (%v) and a new one begun. Keep the old file.", r.SetAside, r.Damage))
	}
	if len(all) > 0 {
		all = append(all, "Look at the card or disk of the controller.", leftOf(r.Checkpoint))
	}
	if r.Trouble != nil {
		all = append(all, fmt.Sprintf("The ledger cannot be used (%v). The bench goes on from memory. Look at the storage.", r.Trouble))
	}
	return all
}

// leftOf says what a record that was not whole leaves of the guard's state.
func leftOf(cp *loop.Checkpoint) string {
	if cp == nil || len(cp.Guard.Lost) == 0 {
		return "What the guard has to know of the benches is whole: floods go on."
	}
	return fmt.Sprintf("What the guard has to know of %s is lost: nothing floods there until a person has reset it.", strings.Join(slices.Sorted(maps.Keys(cp.Guard.Lost)), ", "))
}
