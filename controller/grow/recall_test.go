package grow

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/schedule"
)

func TestDaysOnRecordTakeThePlaceOfTheClimateLineInTheirMonths(t *testing.T) {
	s := under(t, schedule.Plan{Stages: []schedule.Stage{stage(t, 0, "09:00")}}, schedule.Batch{Name: "b", Transplanted: date(t, "2026-05-01")})
	use := func(d string) float64 {
		w, err := s.Weather(date(t, d), Hottest)
		require.NoError(t, err)
		return float64(w.Reference)
	}
	may, june, july := use("2026-05-10"), use("2026-06-10"), use("2026-07-10")
	text := "date,low_c,high_c\n"
	for _, d := range []string{"06-01", "06-02", "06-03", "06-04", "06-05", "06-06", "06-07", "07-01", "07-02"} {
		text += "2025-" + d + ",9,1" + d[4:] + "\n" // 11 to 17 °C
	}
	r, err := s.Place.ReadRecords(strings.NewReader(text))
	require.NoError(t, err)
	said, err := s.Recall(r)
	require.NoError(t, err)
	assert.Equal(t, "weather on record for 9 days stands for one month; for the others it is the climate line", said)
	assert.Equal(t, may, use("2026-05-10"))
	assert.Less(t, use("2026-06-10"), june, "a cool June on record")
	assert.Equal(t, july, use("2026-07-10"), "two days do not stand for a month")
}
