package packed_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/web/packed"
)

func TestGzipIsTakenOnlyByWhoSaysSo(t *testing.T) {
	for accepted, want := range map[string]bool{
		"": false, "gzip": true, "br, gzip": true, "deflate, GZIP;q=0.5": true, "gzip; q=1.0": true,
		"gzip;q=0": false, "gzip;q=0.0, br": false, "identity": false, "x-gzipped": false, "*": false,
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.Header.Set("Accept-Encoding", accepted)
		assert.Equal(t, want, packed.Taken(r), accepted)
	}
}

func TestWhatIsPackedIsTheSameAndSmaller(t *testing.T) {
	said := []byte(strings.Repeat("water in the pots of the basil, ", 100))
	small := packed.Of(said, gzip.BestSpeed)
	assert.Less(t, len(small), len(said)/10)
	z, err := gzip.NewReader(bytes.NewReader(small))
	require.NoError(t, err)
	back, err := io.ReadAll(z)
	require.NoError(t, err)
	assert.Equal(t, said, back)
}
