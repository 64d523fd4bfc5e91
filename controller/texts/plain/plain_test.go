package plain

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWhatAReaderStumblesOverIsFound(t *testing.T) {
	codes, names := []string{"fill-window", "stale"}, []string{"north"}
	for text, want := range map[string]int{
		"north: water too high (the HIGH switch shows water). The pump is off.": 0,
		"Put it back, or say so: benchtide drop big_tank.":                      0,
		"basil_spring is dry.":                        1,
		"north: fill-window.":                         1,
		"The re-fill-window stands.":                  0,
		"It is 1940 h old.":                           1,
		"It is 72 h old.":                             1,
		"It is 47 h old, at 08:30, and 61 L.":         0,
		"It took 3m20s.":                              1,
		"north: the flood is unproven: it was late.":  1,
		"north: the flood of 08:30 was late. Do: it.": 0,
		"north waits for the pump of north.":          1,
		"The the pump is off.":                        0,
		"It is is off.":                               1,
		"There are 1 floods.":                         1,
		"There are 21 floods, and 1 flood.":           0,
		"%!s(MISSING) is off.":                        1,
	} {
		assert.Len(t, Faults(text, codes, names), want, text)
	}
}
