package live

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/grow/outlook"
	"benchtide/controller/ledger"
	"benchtide/controller/quantity"
	"benchtide/schedule/demand"
)

// Entries about the water of a reservoir, and about the pots of a batch.
var (
	ofReservoirs = []ledger.DiaryKind{ledger.TopUp, ledger.SolutionChange, ledger.EC, ledger.PH, ledger.Temperature}
	ofBatches    = []ledger.DiaryKind{
		ledger.Moisture, ledger.Sown, ledger.Germinated, ledger.Resown, ledger.Thinned, ledger.Transplanted, ledger.Lost, ledger.MovedOut,
	}
)

// placed gives a note the place that it can only be about where it names none.
func placed(site *config.Site, n Note) (Note, error) {
	reservoirs, batches := site.ReservoirNames(), site.BatchNames()
	kind := ledger.DiaryKind(n.Kind)
	switch {
	case slices.Contains(ofReservoirs, kind) && n.Place == "" && len(reservoirs) == 1:
		n.Place = reservoirs[0]
	case !slices.Contains(ofBatches, kind):
	case n.Place == "" && len(batches) == 1:
		n.Place = batches[0]
	case !slices.Contains(batches, n.Place):
		return n, Invalid{Reason: fmt.Sprintf("place: %s is about a batch: name one of %s", n.Kind, strings.Join(batches, ", "))}
	}
	return n, nil
}

// ValueOf is the value of a note, which may be written with a unit instead.
func ValueOf(kind string, value *float64, amount string) (*float64, error) {
	var read float64
	var err error
	switch unit := ledger.DiaryUnits[ledger.DiaryKind(kind)]; {
	case amount == "":
		return value, nil
	case value != nil:
		return nil, Invalid{Reason: "amount: give value or amount, not both"}
	case unit == ledger.DiaryUnits[ledger.TopUp]:
		var v quantity.Litres
		v, err = quantity.ParseVolume(amount)
		read = float64(v)
	case unit == ledger.DiaryUnits[ledger.Temperature]:
		var v quantity.Celsius
		v, err = quantity.ParseTemperature(amount)
		read = float64(v)
	default:
		return nil, Invalid{Reason: fmt.Sprintf("amount: %s is no volume and no temperature: give value", kind)}
	}
	if err != nil {
		return nil, Invalid{Reason: "amount: " + err.Error()}
	}
	return &read, nil
}

// believed refuses a note that cannot be right, and asks about one that is hard
// to believe beside those before it, unless its writer is sure.
func (r *Record) believed(ctx context.Context, n Note) error {
	e := outlook.Entry(n.At, n.Kind, n.Value)
	if err := grow.Impossible(e, r.site.Units); err != nil {
		return Invalid{Reason: err.Error()}
	}
	if n.Sure {
		return nil
	}
	rows, err := r.ledger.Diary(ctx, ledger.Query{Bench: n.Place})
	if err != nil {
		return nil // a record that cannot be read is no reason not to write
	}
	var before []grow.Entry
	for _, d := range rows {
		before = append(before, outlook.Entry(d.At.Time, string(d.Kind), d.Value))
	}
	before, holds, err := r.beside(n.Place, before)
	if err != nil {
		return err
	}
	questions := grow.Doubts(e, before, holds, n.Now, r.site.Units)
	if r.asks != nil {
		questions = append(questions, r.asks(n)...)
	}
	if len(questions) > 0 {
		return Refused{Reason: strings.Join(questions, " ") + " If it is right, write it down again and say that you are sure.", Questions: questions, Needs: "sure"}
	}
	return nil
}

// beside is what a place brings to the entries about it: a reservoir what it
// holds, a batch the pots that it began with.
func (r *Record) beside(place string, before []grow.Entry) ([]grow.Entry, demand.Litres, error) {
	if i := slices.Index(r.site.ReservoirNames(), place); i >= 0 {
		return before, demand.Litres(r.site.Reservoirs[i].Usable), nil
	}
	i := slices.Index(r.site.BatchNames(), place)
	if i < 0 {
		return before, 0, nil
	}
	g, _, err := outlook.Site(r.site)
	if err != nil {
		return nil, 0, err
	}
	return g.Counted(i, before, r.zone), 0, nil
}

// Changes lists the benches whose fill and fall times an entry changes: those
// that were cleaned or that a person says were changed, and those of a batch
// whose pots came or went.
func Changes(site *config.Site, n Note) (benches []int) {
	kind := ledger.DiaryKind(n.Kind)
	for i, b := range site.Benches {
		tank := site.Reservoirs[b.Reservoir].Name
		if (kind == ledger.Cleaning || kind == ledger.Baseline) && (n.Place == "" || n.Place == b.Name || n.Place == tank) {
			benches = append(benches, i)
		}
	}
	if kind == ledger.MovedOut || kind == ledger.Transplanted {
		for _, b := range site.Batches {
			if b.Name == n.Place {
				benches = append(benches, b.Bench)
			}
		}
	}
	return benches
}
