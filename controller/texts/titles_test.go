package texts_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/controller/texts"
)

func TestPeopleReadATitleAndElseTheName(t *testing.T) {
	var all texts.Titles
	texts.Entitle(&all.Benches, "north", "Nordtisch")
	texts.Entitle(&all.Reservoirs, "north", "Becken")
	texts.Entitle(&all.Batches, "basil_spring", "")
	assert.Equal(t, "Nordtisch", all.Bench("north"))
	assert.Equal(t, "Becken", all.Reservoir("north"))
	assert.Equal(t, "north", all.Plan("north"))
	assert.Equal(t, "basil spring", all.Batch("basil_spring"))
	assert.Equal(t, "Nordtisch", all.Place("north"), "a bench comes first")
	assert.Equal(t, "Nordtisch (north)", texts.Listed("north", all.Benches))
	assert.Equal(t, "basil_spring", texts.Listed("basil_spring", all.Batches))
}
