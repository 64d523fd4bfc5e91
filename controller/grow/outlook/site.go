package outlook

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/schedule/demand"
)

// Reserve is what has to be in a reservoir for its largest flood to start.
func Reserve(site *config.Site, reservoir int) demand.Litres {
	r := site.Reservoirs[reservoir]
	least := max(r.Keep, r.LowAt)
	for i, b := range site.Benches {
		if b.Reservoir == reservoir {
			least = max(least, r.Keep+site.Sheet(i).VFlood)
		}
	}
	return demand.Litres(least)
}

// Plants is a site as advice on its plants knows it by the file alone, and what
// had to be assumed for that.
func Plants(site *config.Site) (*grow.Site, []string, error) {
	calendar, err := site.Calendar()
	if err != nil {
		return nil, nil, err
	}
	climate, place, assumed := site.Weather()
	g := &grow.Site{Calendar: calendar, Plans: site.Plans, Place: place, Line: climate.Line, Units: site.Units, Called: site.Titles, AssumedLine: site.Climate == nil, Reservoirs: len(site.Reservoirs)}
	for i := range site.Benches {
		sh := site.Sheet(i)
		g.Falls, g.Shallow = append(g.Falls, sh.Fall), append(g.Shallow, sh.Fill+sh.Drain-sh.Fall)
	}
	for i, b := range site.Batches {
		d, err := site.Demand(i)
		if err != nil {
			return nil, nil, err
		}
		g.Batches = append(g.Batches, grow.Batch{Batch: b.Batch, Demand: d, Grows: site.Grows(i), Sown: b.Sown})
	}
	for _, l := range site.Lamps {
		g.Lamps = append(g.Lamps, grow.Lamp{Lamps: l.Lamps, Flux: l.Flux})
	}
	return g, assumed, nil
}

// Site is that with the weather on record, where the file names any.
func Site(site *config.Site) (*grow.Site, []string, error) {
	g, assumed, err := Plants(site)
	if err != nil {
		return nil, nil, err
	}
	if site.Records != "" {
		assumed = append(assumed, recall(g, site.Records)...)
	}
	return g, assumed, nil
}

// recall has a site reckon with the weather on record. What cannot be read or
// believed is said, and the climate line stands in: the schedule is as it is.
func recall(g *grow.Site, path string) []string {
	data, err := readWeather(path)
	if err != nil {
		return []string{fmt.Sprintf("%v; the climate line stands in for it", err)}
	}
	r, err := g.Place.ReadRecords(bytes.NewReader(data))
	if err != nil {
		return []string{fmt.Sprintf("weather %q: %v; the climate line stands in for it", path, err)}
	}
	said, err := g.Recall(r)
	if err != nil {
		return []string{fmt.Sprintf("weather %q: %v; the climate line stands in for it", path, err)}
	}
	notes := []string{said}
	for i, n := range r.Notes {
		if i == mostNotes {
			notes = append(notes, fmt.Sprintf("%s: %d more lines were not believed", path, len(r.Notes)-mostNotes))
			break
		}
		notes = append(notes, fmt.Sprintf("%s:%d: %s", path, n.Line, n.Text))
	}
	return notes
}

// mostNotes is how many lines of a table are named that were not believed.
const mostNotes = 5

// weatherLimit is more than the table of a hundred years takes, in bytes.
const weatherLimit = 1 << 20

func readWeather(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read the weather: %w; give the path of a file that can be read", err)
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, weatherLimit+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("read the weather %q: %w", path, err)
	case len(data) > weatherLimit:
		return nil, fmt.Errorf("read the weather %q: it is longer than %d KiB", path, weatherLimit>>10)
	}
	return data, nil
}
