package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const bench = `goos: linux
BenchmarkTurn/benches=1-2         	  111922	      2075 ns/op	      2000 cpu-ns/op	       0 B/op	       0 allocs/op
BenchmarkTurn/benches=4-2         	   42537	      9410 ns/op	      8000 cpu-ns/op	       0 B/op	       0 allocs/op
BenchmarkTurn/benches=16-2        	   14995	     44061 ns/op	     32000 cpu-ns/op	       4 B/op	       0 allocs/op
BenchmarkStream/clients=1-2       	     127	   2029253 ns/op	 1e+06 cpu-ns/op
BenchmarkStream/clients=100-2     	     100	   2273153 ns/op	 1e+07 cpu-ns/op
PASS
`

func TestCurvesAreReadWithTheirExponent(t *testing.T) {
	all := curves(bench)
	require.Len(t, all, 2)
	assert.Equal(t, curve{"Turn", "benches", []point{{1, 2000}, {4, 8000}, {16, 32000}}}, all[0])
	assert.InDelta(t, 1, all[0].exponent(), 1e-9)
	assert.Equal(t, "clients", all[1].of)
	assert.InDelta(t, 0.5, all[1].exponent(), 1e-9)
}

func TestSpansHaveThreeFigures(t *testing.T) {
	for ns, want := range map[float64]string{1.5e9: "1.5 s", 2.345e6: "2.35 ms", 12_345: "12.3 µs", 7: "7 ns"} {
		assert.Equal(t, want, span(ns))
	}
}

func TestTheTablesTakeThePlaceOfThoseBefore(t *testing.T) {
	p := plant{root: t.TempDir()}
	path := filepath.Join(p.root, "DEVELOPERS.md")
	require.NoError(t, os.WriteFile(path, []byte("# x\n\n## What it costs\n\nmuch\n\n## Next\n\ntext\n"), 0o600))
	require.NoError(t, p.intoPaper("little\n"))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "# x\n\n## What it costs\n\nlittle\n\n## Next\n\ntext\n", string(data))
	require.NoError(t, os.WriteFile(path, []byte("# x\n"), 0o600))
	assert.ErrorContains(t, p.intoPaper("little\n"), "What it costs")
}

func TestWhatTheBoardSaysIsFoundByItsName(t *testing.T) {
	out := `    latency_test.go:115: start to every output off, in order: [66ms 57ms]
    latency_test.go:118: start to every output off, on the board's clock: min 57.1ms, median 57.1ms, max 66.2ms of 2
    latency_test.go:118: HIGH made to pump line off, on the board's clock: min 240µs, median 4.11ms, max 10.034ms of 32
`
	took, found := boardSays("HIGH made to pump line off", out)
	assert.True(t, found)
	assert.Equal(t, "10 ms (median 4.11 ms, least 240 µs, 32 times)", took)
	took, _ = boardSays("start to every output off", out)
	assert.Equal(t, "66.2 ms (median 57.1 ms, least 57.1 ms, 2 times)", took)
	_, found = boardSays("HIGH made to enable line off", out)
	assert.False(t, found)
}

func TestWhatThePageNeedsIsFoundAndNothingElse(t *testing.T) {
	page := `<link rel="stylesheet" href="page.css"><script type="module" src="main.js"></script><a href="/metrics">` +
		"import { a } from './dom.js'\nimport{b}from\"./water.js\"\nconst later = () => import('./record.js')"
	var found []string
	for _, m := range refersTo.FindAllStringSubmatch(page, -1) {
		found = append(found, m[1])
	}
	assert.Equal(t, []string{"page.css", "main.js", "dom.js", "water.js"}, found)
}

func TestAProgramIsHeardWhereItSays(t *testing.T) {
	for line, want := range map[string]string{
		"Greenhouse: the page is at http://127.0.0.1:8347/, metrics at http://127.0.0.1:8347/metrics":              "127.0.0.1:8347",
		`ts=2026-01-01 caller=tls_config.go:274 level=info msg="Listening on" address=127.0.0.1:19100`:             "127.0.0.1:19100",
		`time=2026-01-01T00:00:00Z level=INFO source=tls_config.go:347 msg="Listening on" address=127.0.0.1:19100`: "127.0.0.1:19100",
	} {
		m := metricsAt.FindStringSubmatch(line)
		require.NotNil(t, m, line)
		assert.Equal(t, want, m[1])
	}
}

func TestOnlyResultsOfABenchmarkAreCompared(t *testing.T) {
	assert.Equal(t, "BenchmarkTurn/benches=1-2 \t 3 \t 5 ns/op\n", results("goos: linux\npkg: benchtide/cmd\nBenchmarkTurn\nBenchmarkTurn/benches=1-2 \t 3 \t 5 ns/op\nPASS\n"))
}

func TestTheDelayOfTheLoopIsReadAsTheTestsOfTheClientsSayIt(t *testing.T) {
	out := `    clients_test.go:125: without clients, 32 benches: 1000 turns, delay p50 493µs p99 4.48ms p99.9 9.79ms most 9.8ms; 0 turns were later than p99.9
    clients_test.go:125: with 200 clients, 32 benches: 990 turns, delay p50 493µs p99 4.48ms p99.9 9.79ms most 9.8ms; 0 turns were later than p99.9
    clients_test.go:125: with a record that can be written, 32 benches: 1000 turns, delay p50 493µs p99 4.48ms p99.9 9.79ms most 9.8ms; 0 turns were later than p99.9
    clients_test.go:125: locked for 10s, 200 clients, 32 benches: 826 turns, delay p50 669µs p99 12.6ms p99.9 23.9ms most 23.9ms; 0 turns were later than p99.9
`
	all := delay.FindAllStringSubmatch(out, -1)
	require.Len(t, all, len(delays))
	assert.Equal(t, []string{"826", "669µs", "23.9ms", "23.9ms"}, all[2][3:])
}
