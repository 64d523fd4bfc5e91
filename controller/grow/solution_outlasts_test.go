package grow

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWaterThatOutlastsItsSolutionIsToldSo(t *testing.T) {
	assert.Empty(t, Outlasts(14))
	assert.Equal(t, "longer than its solution, which is due for a change after 14 days", Outlasts(344))
}
