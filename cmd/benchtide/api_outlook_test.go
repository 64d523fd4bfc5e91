package main

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/grow"
)

func TestAnOutlookOfSomebodyWhoHasGoneIsNotShownToOthers(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage)
	var all outlooks
	gone, leave := context.WithCancel(t.Context())
	leave()
	from := site.Batches[0].Transplanted
	_, err := all.of(gone, site, from, 3, func() (*grow.Record, error) { return nil, gone.Err() })
	require.ErrorIs(t, err, context.Canceled)
	o, err := all.of(t.Context(), site, from, 3, func() (*grow.Record, error) {
		return &grow.Record{Now: from.At(0).In(site.Zone)}, nil
	})
	require.NoError(t, err)
	assert.NotNil(t, o.learned)
}
