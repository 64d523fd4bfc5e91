package sim_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchtide/hw/sim"
)

func TestEveryFaultIsDescribed(t *testing.T) {
	var names []string
	for _, d := range sim.Described() {
		names = append(names, d.Name)
		assert.NotEmpty(t, d.Where, d.Name)
		assert.NotEmpty(t, d.Does, d.Name)
	}
	slices.Sort(names)
	assert.Equal(t, sim.Faults(), names)
}
