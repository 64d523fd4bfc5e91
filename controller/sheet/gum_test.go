package sheet

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The end gauge of JCGM 100:2008, annex H.1. That its comparator has 5.8, 3.9 and 6.7 nm
// at 24, 5 and 8 degrees of freedom stands in the documentation of MSLNZ/GTC (examples,
// GUM H1); what they come to, 9.7 nm at 25.6, and the four parts of the gauge with 32 nm
// at 16 and t of 2.12 for 19 in 20 are from memory.
func TestUncertaintiesCombineAsThoseOfTheGuidesEndGauge(t *testing.T) {
	comparator := combined([]component{{5.8, 24}, {3.9, 5}, {6.7, 8}})
	assert.InDelta(t, 9.7, comparator.u, 0.05)
	assert.InDelta(t, 25.6, comparator.freedom, 0.3)
	gauge := combined([]component{{25, 18}, comparator, {2.9, 50}, {16.6, 2}})
	assert.InDelta(t, 32, gauge.u, 0.5)
	assert.InDelta(t, 16.5, gauge.freedom, 0.5)
	assert.InEpsilon(t, 2.12*gauge.u, gauge.expanded(), 0.011, "of the row below, 14")
	assert.InDelta(t, 4.30, component{1, 2.9}.expanded(), 0, "of the row below, 2")
}

// TestPublishedStudents holds the row of each number of degrees of freedom to printed
// tables of Student's t.
func TestPublishedStudents(t *testing.T) {
	f, err := os.Open("../../testdata/published/sheet-student.csv")
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, lines[1:], len(students))
	for _, line := range lines[1:] {
		freedom, err := strconv.ParseFloat(line[0], 64)
		require.NoError(t, err)
		want, err := strconv.ParseFloat(line[1], 64)
		require.NoError(t, err)
		assert.InEpsilon(t, want, component{1, freedom}.expanded(), 0.003, line[0])
	}
}

// By hand: three values one apart scatter by 1, their mean by its share of the root of
// three.
func TestTheScatterOfAMean(t *testing.T) {
	c := scattered([]float64{99, 100, 101})
	assert.InDelta(t, 1/math.Sqrt(3), c.u, 1e-12)
	assert.InDelta(t, 2, c.freedom, 0)
	assert.InDelta(t, 100*0.035/math.Sqrt(6), scattered([]float64{100}).u, 1e-9, "one flood shows nothing of its scatter")
	assert.Zero(t, scattered(nil).u)
}

func plain() Bench {
	return Bench{
		Table: Table{Length: 2.4, Width: 1.2, Rim: 0.075}, Standpipe: Standpipe{Crest: 0.030, Bore: 0.050}, Full: 0.026,
		Supply: Supply{Bore: 0.019, Length: 3, Lift: 0.8, MaxHead: 2.2, MaxFlow: 2000}, Drain: Drain{ThroughPump: true}, Usable: 200,
	}
}

// By hand, three floods alike of 80 L by a meter in 240 s: the marks 3 % by even chances
// (1.7321 %), the watch 0.2357 s of 240 s (0.0982 %), together 1.7348 %, times 1.96.
func TestWhatAFlowByMeterGivesOrTakes(t *testing.T) {
	one := Timed{Fill: 4 * time.Minute, Lifted: 80}
	c, err := Calibrate(plain(), []Timed{one, one, one})
	require.NoError(t, err)
	assert.InDelta(t, 0.0340, float64(c.Flow.Give), 0.0001)
	assert.InDelta(t, 1.96*0.3/math.Sqrt(6), float64(c.Home.Give), 1e-6, "the drain is the file's")
}

// Each thing that is read or taken from the file makes its figure less sure.
func TestWhatMakesACalibrationLessSure(t *testing.T) {
	careful := Timed{Fill: 270 * time.Second, Fall: 140 * time.Second, Drawn: 115, Settle: 0.042}
	figures := func(b Bench, floods ...Timed) Calibration {
		c, err := Calibrate(b, floods)
		require.NoError(t, err)
		return c
	}
	three := figures(plain(), careful, careful, careful)
	assert.Less(t, three.Flow.Give, figures(plain(), careful).Flow.Give, "one flood alone")
	unread := careful
	unread.Drawn = 0
	assert.Less(t, three.Free.Give, figures(plain(), unread, unread, unread).Free.Give, "nobody read the tank")
	unread = careful
	unread.Settle = 0
	assert.Less(t, three.Free.Give, figures(plain(), unread, unread, unread).Free.Give, "nobody measured how high the water stood")
	other := careful
	other.Fill += 15 * time.Second
	assert.Less(t, three.Flow.Give, figures(plain(), careful, careful, other).Flow.Give, "the floods differ")
	assert.InDelta(t, 0.28, float64(three.Home.Give), 0.03, "a drain timed by FULL alone: by the band of its float and by the standpipe")
	deep := plain()
	deep.Full, deep.Standpipe.Crest = 0.052, 0.056
	careful.Settle, careful.Drawn = 0.068, 190
	assert.Less(t, figures(deep, careful, careful, careful).Flow.Give, three.Flow.Give, "FULL's height counts for less")
}
