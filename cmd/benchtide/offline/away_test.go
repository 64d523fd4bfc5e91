package offline

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller"
	"benchtide/controller/config"
	"benchtide/controller/grow"
	"benchtide/controller/live"
	"benchtide/controller/web"
	"benchtide/schedule"
)

// told is a record as a daemon tells it.
type told map[string]any

func (r told) Get(_ context.Context, path string, _ url.Values, into any) error {
	data, err := json.Marshal(r[path])
	if err != nil {
		return err
	}
	return json.Unmarshal(data, into)
}

func (r told) Open(_ context.Context, path string, _ url.Values) (io.ReadCloser, error) {
	text, ok := r[path].(string)
	if !ok {
		return nil, errors.New("no daemon answers")
	}
	return io.NopCloser(strings.NewReader(text)), nil
}

// sound is the record of an example bench on which all is well on 14 March.
func sound() told {
	var floods web.Floods
	for d := range 12 {
		at := fmt.Sprintf("2026-03-%02dT09:00:00+00:00", d+2)
		fill, fall := 187.0, 129.0
		floods.Floods = append(floods.Floods, controller.Row{ID: int64(d), Bench: "north", Due: at, Outcome: controller.Proven, FillS: &fill, FallS: &fall})
	}
	entry := func(at, place, kind string) live.DiaryEntry { return live.DiaryEntry{At: at, Place: place, Kind: kind} }
	return told{
		"status": live.Status{
			Site: "Quarry Lane school greenhouse", At: "2026-03-14T07:00:00+00:00", ClockTrusted: true,
			Benches: []live.BenchStatus{{Name: "north"}}, Reservoirs: []live.ReservoirStatus{{Name: "tank", Litres: 140}},
		},
		"ledger": floods,
		"diary": web.Diary{Entries: []live.DiaryEntry{
			entry("2026-03-13T08:00:00+00:00", "tank", "solution-change"), entry("2026-03-13T09:00:00+00:00", "", "cleaning"),
		}},
		"export": `{"at":"2026-03-01T10:00:00+00:00","place":"north","switch":"high","level":"wet"}
{"at":"2026-03-01T10:01:00+00:00","place":"tank","switch":"low","level":"dry"}
`,
	}
}

func awayCheck(t *testing.T, record told, until string) map[string]grow.Item {
	t.Helper()
	site, problems := config.Parse(cli.ExampleName, config.Example)
	require.NoError(t, problems.Err())
	from, err := schedule.ParseDate("2026-03-14")
	require.NoError(t, err)
	back, err := schedule.ParseDate(until)
	require.NoError(t, err)
	a, err := awayOf(context.Background(), site, from, back)
	require.NoError(t, err)
	if record != nil {
		a.Record, err = readRecord(context.Background(), record, site)
		require.NoError(t, err)
	}
	for _, h := range grow.ByHand {
		a.Confirmed = append(a.Confirmed, h.Key)
	}
	items := map[string]grow.Item{}
	for _, i := range a.Check() {
		items[i.Name] = i
	}
	return items
}

func TestASoundExampleBenchCanBeLeftForThreeDays(t *testing.T) {
	for name, item := range awayCheck(t, sound(), "2026-03-17") {
		assert.Equal(t, grow.Fine, item.Mark, "%s: %s", name, item.Reason)
	}
}

func TestEachThingLeftUndoneIsTheReasonOfItsItemAlone(t *testing.T) {
	slow, late := 230.0, "2026-03-15T09:00:00+00:00"
	for name, c := range map[string]struct {
		until  string
		change func(told)
		item   string
		want   string
	}{
		"three weeks":      {"2026-04-04", func(told) {}, "Water for the days away", "L used on hottest days"},
		"a stage is due":   {"2026-03-27", func(told) {}, "No stage that needs a person", "basil spring enters its stage from day 24 on 2026-03-26, at strength 100 % after 50 %"},
		"a flood unproven": {"2026-03-17", func(r told) { r["ledger"].(web.Floods).Floods[8].Outcome = controller.Unproven }, "The last floods are proven", "north of 10 Mar 09:00 is unproven"},
		"a new bench":      {"2026-03-17", func(r told) { r["ledger"] = web.Floods{Floods: r["ledger"].(web.Floods).Floods[:3]} }, "The last floods are proven", "only 3 floods"},
		"fills have slowed": {"2026-03-17", func(r told) {
			f := r["ledger"].(web.Floods).Floods
			f[9].FillS, f[10].FillS, f[11].FillS = &slow, &slow, &slow
		}, "Fill and fall times as they were", "north fills in 3 min 50 s, was 3 min"},
		"HIGH never tested": {"2026-03-17", func(r told) { _, r["export"], _ = strings.Cut(r["export"].(string), "\n") }, "Switches tested within 30 days", "north.high was never tested"},
		"low tested long ago": {"2026-03-17", func(r told) {
			r["export"] = strings.Replace(r["export"].(string), "2026-03-01T10:01", "2026-01-30T10:01", 1)
		}, "Switches tested within 30 days", "tank.low was tested last on 30 Jan"},
		"not cleaned": {"2026-03-17", func(r told) { r["diary"] = web.Diary{Entries: r["diary"].(web.Diary).Entries[:1]} }, "Screen and standpipe cleaned within 3 days", "north: clean them now"},
		"nobody knows": {"2026-03-17", func(r told) {
			r["diary"].(web.Diary).Entries[0].At = "2026-03-12T08:00:00+00:00"
			r["status"].(live.Status).Reservoirs[0].Basis, r["status"].(live.Status).Reservoirs[0].Words = "unknown", "not known since Mon 2 Mar 09:00; its switch shows that it holds 140 L or more"
		}, "Water for the days away", "tank: nobody knows what it holds: not known since Mon 2 Mar 09:00"},
		"weighed low, though filled": {"2026-03-17", func(r told) {
			r["status"].(live.Status).Reservoirs[0].Basis = "weighed"
			r["status"].(live.Status).Reservoirs[0].Litres = 100
		}, "Water for the days away", "of 0 L that can go before it cannot flood"},
		"old solution": {"2026-03-17", func(r told) { r["diary"].(web.Diary).Entries[0].At = "2026-03-02T08:00:00+00:00" }, "Solution good until the return", "15 days old"},
		"a leak": {"2026-03-17", func(r told) {
			d := r["diary"].(web.Diary)
			for n := range 9 {
				litres := 40.0
				d.Entries = append(d.Entries, live.DiaryEntry{At: fmt.Sprintf("2026-03-%02dT08:00:00+00:00", n+3), Place: "tank", Kind: "top-up", Value: &litres})
			}
			r["diary"] = d
		}, "Water goes no faster than plants use it", "look for a leak"},
		"paused": {"2026-03-17", func(r told) { r["status"].(live.Status).Benches[0].PausedUntil = &late }, "Nothing is held, paused or latched", "north is paused until"},
		"latched": {"2026-03-17", func(r told) {
			r["status"].(live.Status).Benches[0].Latched = []live.LatchedTrip{{Interlock: "leak", Words: "Water on the floor"}}
		}, "Nothing is held, paused or latched", "has to be reset: Water on the floor"},
		"no clock": {"2026-03-17", func(r told) { s := r["status"].(live.Status); s.ClockTrusted = false; r["status"] = s }, "The clock can be trusted", "does not trust its clock"},
	} {
		t.Run(name, func(t *testing.T) {
			r := sound()
			c.change(r)
			items := awayCheck(t, r, c.until)
			assert.Equal(t, grow.Wrong, items[c.item].Mark, "%+v", items[c.item])
			assert.Contains(t, items[c.item].Reason, c.want)
			if c.until != "2026-03-17" {
				return // longer absences want more than one thing
			}
			for name, i := range items {
				if name != c.item && !(name == "Water for the days away" && c.item == "Solution good until the return") {
					assert.Equal(t, grow.Fine, i.Mark, "%s: %s", name, i.Reason)
				}
			}
		})
	}
}

func TestClocksThatChangeAreSaidAndHarmNothing(t *testing.T) {
	item := awayCheck(t, sound(), "2026-04-01")["The clock can be trusted"]
	assert.Equal(t, grow.Fine, item.Mark)
	assert.Contains(t, item.Reason, "clocks change")
}

func TestADaemonOfAnotherSiteIsNotAsked(t *testing.T) {
	site, _ := config.Parse(cli.ExampleName, config.Example)
	r := sound()
	s := r["status"].(live.Status)
	s.Site = "Mill Lane"
	r["status"] = s
	_, err := readRecord(context.Background(), r, site)
	assert.ErrorContains(t, err, `keeps "Mill Lane"`)
}

func TestWithoutARecordItsItemsStayOpen(t *testing.T) {
	with, unread := awayCheck(t, sound(), "2026-03-17"), 0
	for name, i := range awayCheck(t, nil, "2026-03-17") {
		assert.Contains(t, with, name)
		delete(with, name)
		if i.Mark == grow.Unread {
			unread++
		}
	}
	assert.Empty(t, with, "no item is left out")
	assert.Equal(t, 8, unread)
}

func TestThePageForATimerNeverRunsAPumpUntilWaterCouldBeAtTheRim(t *testing.T) {
	for _, hold := range []string{"4 min", "45 min"} {
		text := strings.Replace(string(config.Example), `flood_at: ["09:00"],          hold: 4 min`, `flood_at: ["09:00"],          hold: `+hold, 1)
		site, problems := config.Parse(cli.ExampleName, []byte(text))
		require.NoError(t, problems.Err())
		calendar, err := site.Calendar()
		require.NoError(t, err)
		from, err := schedule.ParseDate("2026-03-03")
		require.NoError(t, err)
		b := timerBenchOf(site, calendar, 0, from)
		run, err := time.ParseDuration(strings.NewReplacer(" min", "m", " s", "s", " ", "").Replace(b.Run))
		require.NoError(t, err)
		assert.Less(t, run, site.Sheet(0).Fill+site.Sheet(0).Over)
		assert.Equal(t, hold == "45 min", b.Shortened)
		assert.Equal(t, []string{"09:00"}, b.Times)

		var page bytes.Buffer
		require.NoError(t, writeTimerPaper(&page, site, from))
		assert.Contains(t, page.String(), "<b>"+b.Run+"</b>")
		assert.Contains(t, page.String(), "<b>09:00</b>")
		assert.NotContains(t, page.String(), "http", "it needs nothing from elsewhere")
	}
}

// No program sees to warmth: what has to be reckoned with is said where it is asked.
func TestHeatingAndVentsAreAskedForWithTheDaysToReckonWith(t *testing.T) {
	site, problems := config.Parse(cli.ExampleName, config.Example)
	require.NoError(t, problems.Err())
	from := schedule.DateOf(2026, time.March, 14)
	a, err := awayOf(context.Background(), site, from, from.AddDays(3))
	require.NoError(t, err)
	asked := map[string]string{}
	for _, i := range a.Check() {
		if i.Mark == grow.Asked {
			asked[i.Name] = i.Reason
		}
	}
	assert.Equal(t, "see to it, then confirm heating; nights down to 10 °C, as taken without site.climate, and cold below about 12 °C hurts basil spring", asked["Heating is set and has fuel, and nothing can freeze"])
	assert.Equal(t, "see to it, then confirm vents; days up to 34 °C, as taken without site.climate", asked["Vents open and close without a hand, and shade is up"])
}
