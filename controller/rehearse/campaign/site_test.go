package campaign

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDrawnSitesAreSoundAndDiffer(t *testing.T) {
	seen := map[string]bool{}
	for n := range uint64(12) {
		p, err := drawPlace(context.Background(), rand.New(rand.NewPCG(1, n)), 1+int(n)%3)
		require.NoError(t, err)
		assert.False(t, seen[p.Text])
		seen[p.Text] = true
	}
}
