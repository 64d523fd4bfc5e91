package commission

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

func TestOnlyFloodsOfThisBenchAndItsWiringAreGoneOnWith(t *testing.T) {
	site, problems := config.Parse("bench.yaml", config.Example)
	require.NoError(t, problems.Err())
	here := site.Fingerprint()
	entry := func(what, place, fingerprint string) Entry {
		return Entry{What: what, Place: place, Fingerprint: fingerprint, Data: []byte(`{"fill_ns":1}`)}
	}
	one := []timedData{{Fill: 1}}
	for name, c := range map[string]struct {
		entries []Entry
		want    []timedData
	}{
		"this bench, wired as now": {[]Entry{entry(begun, "", here), entry(timed, "north", here)}, one},
		"wired otherwise":          {[]Entry{entry(begun, "", here), entry(timed, "north", "another")}, nil},
		"another bench":            {[]Entry{entry(begun, "", here), entry(timed, "south", here)}, nil},
		"before this visit":        {[]Entry{entry(timed, "north", here), entry(begun, "", here)}, nil},
		"thrown away":              {[]Entry{entry(begun, "", here), entry(timed, "north", here), entry(discarded, "north", here)}, nil},
		"another's thrown away":    {[]Entry{entry(begun, "", here), entry(timed, "north", here), entry(discarded, "south", here)}, one},
	} {
		record := &Memory{}
		for _, e := range c.entries {
			require.NoError(t, record.Add(e))
		}
		d := &dialogue{Options: Options{Site: site, Record: record}}
		floods, err := d.timedBefore(0)
		require.NoError(t, err)
		assert.Equal(t, c.want, floods, name)
	}
}
