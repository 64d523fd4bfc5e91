package alarm

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"benchtide/controller"
	"benchtide/safety"
	"benchtide/schedule"
)

// start is a Monday.
var start = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func timeOfDay(s string) schedule.TimeOfDay {
	t, err := schedule.ParseTimeOfDay(s)
	if err != nil {
		panic(err) // a mistake of the test
	}
	return t
}

func rules() Rules {
	return Rules{
		Zone: time.UTC, Repeat: 15 * time.Minute, SecondAfter: 40 * time.Minute,
		Quiet: true, QuietFrom: timeOfDay("21:00"), QuietTo: timeOfDay("07:00"),
		DigestDay: time.Sunday, DigestAt: timeOfDay("18:00"),
	}
}

// rig is a list of alarms in virtual time: it jumps to when the list of alarms
// asks to be woken.
type rig struct {
	*List
	t    testing.TB
	at   time.Duration
	told []string // hours and minutes since the start, kind and cause, ! for the second person
}

var names = controller.Names{Site: "greenhouse", Benches: []string{"north", "south"}, Reservoirs: []string{"tank"}, Batches: []string{"basil"}, BenchOf: []int{0}}

func newRig(t testing.TB) *rig { return &rig{List: New(rules(), names), t: t} }

func (r *rig) now() safety.Now {
	return safety.Now{Mono: time.Hour + r.at, Wall: start.Add(r.at), Trusted: true}
}

// until lets time pass up to d after the start.
func (r *rig) until(d time.Duration) *rig {
	for {
		for _, n := range r.Step(r.now()) {
			line := r.at.String() + " " + string(n.Kind) + " " + n.Alarm.Cause
			if n.Second {
				line += "!"
			}
			r.told = append(r.told, line)
		}
		next := r.Next() - time.Hour
		if next > d {
			r.at = d
			r.Step(r.now())
			return r
		}
		require.Greater(r.t, next, r.at, "it asks for the past")
		r.at = next
	}
}

func message(u controller.Urgency, bench int, cause string) controller.Message {
	p := controller.Parts{Happened: cause + " happened.", Done: "Something was done.", Do: "Do something."}
	return controller.Message{Urgency: u, Bench: bench, Cause: cause, Text: p.Text(), Parts: p, By: start.Add(30 * time.Hour)}
}

func TestNowIsRepeatedAndReachesTheSecondPersonUntilSomebodyAcknowledges(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "high-level"))
	r.See(r.now(), latched(safety.HighLevel))
	r.until(time.Hour)
	assert.Equal(t, []string{
		"0s arose high-level", "15m0s again high-level", "30m0s again high-level",
		"40m0s again high-level!", "55m0s again high-level!",
	}, r.told)
	a := r.Alarms()[0]
	assert.Equal(t, Unacknowledged, a.State())
	require.NoError(t, r.Acknowledge(a.ID, "the grower"))
	assert.Equal(t, Acknowledged, r.Alarms()[0].State())
	assert.Len(t, r.until(10*time.Hour).told, 5, "acknowledging silences")
	r.See(r.now(), &controller.Status{Benches: make([]controller.BenchStatus, 2)})
	r.until(21 * time.Hour)
	assert.Equal(t, "19h0m0s gone high-level!", r.told[5], "both hear that it is over, after the quiet hours")
	assert.Empty(t, r.Alarms())
}

func TestAlarmThatReturnsBeforeItIsAcknowledgedIsRepeatedNoMoreAndStaysOnTheList(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "high-level"))
	r.until(time.Minute)
	r.See(r.now(), &controller.Status{Benches: make([]controller.BenchStatus, 2)})
	r.until(time.Hour)
	assert.Equal(t, []string{"0s arose high-level", "1m0s gone high-level"}, r.told)
	assert.Equal(t, Returned, r.Alarms()[0].State())
	require.NoError(t, r.Acknowledge(0, "the grower"))
	assert.Empty(t, r.until(2*time.Hour).Alarms())
}

func TestQuietHoursHoldBackAllButNow(t *testing.T) {
	r := newRig(t)
	r.until(10 * time.Hour) // 22:00
	r.Raise(r.now(), message(controller.Today, 0, "flood"))
	r.Raise(r.now(), message(controller.Urgent, 1, "leak"))
	r.until(10*time.Hour + time.Minute)
	assert.Equal(t, []string{"10h0m0s arose leak"}, r.told)
	require.NoError(t, r.Acknowledge(r.Alarms()[1].ID, ""))
	r.until(20 * time.Hour)
	assert.Equal(t, []string{"10h0m0s arose leak", "19h0m0s arose flood"}, r.told)
}

func TestWhatCameAndWentInTheQuietHoursIsLeftToTheDigest(t *testing.T) {
	r := newRig(t)
	r.until(10 * time.Hour)
	r.Raise(r.now(), message(controller.Today, 0, "flood"))
	r.until(11 * time.Hour)
	r.Flooded(&controller.Flood{Bench: 0, Outcome: controller.Proven})
	assert.Empty(t, r.until(24*time.Hour).told)
	assert.Empty(t, r.Alarms())
	assert.Contains(t, r.summary(r.now()), "flood happened.")
}

func TestClockThatIsNotTrustedKnowsNoQuietHoursAndNoDigest(t *testing.T) {
	p := New(rules(), names)
	now := safety.Now{Mono: time.Hour, Wall: start.Add(11 * time.Hour)}
	p.Raise(now, message(controller.Today, 0, "flood"))
	now.Mono += settle
	assert.Len(t, p.Step(now), 1)
	now.Mono, now.Wall = now.Mono+30*24*time.Hour, now.Wall.Add(30*24*time.Hour)
	assert.Empty(t, p.Step(now))
}

func TestOneCauseIsOneAlarm(t *testing.T) {
	r := newRig(t)
	for i := range 5 {
		r.Raise(r.now(), message(controller.Today, 0, "flood"))
		r.until(time.Duration(i+1) * time.Hour)
	}
	assert.Equal(t, []string{"1m0s arose flood"}, r.told)
	assert.Equal(t, 5, r.Alarms()[0].Count)
	r.until(25 * time.Hour)
	r.Raise(r.now(), message(controller.Today, 0, "flood"))
	r.until(26 * time.Hour)
	assert.Equal(t, []string{"1m0s arose flood", "25h0m0s arose flood"}, r.told, "and once a day at most")
	r.Raise(r.now(), message(controller.Today, 1, "flood"))
	assert.Len(t, r.Alarms(), 2, "another bench is another alarm")
}

func TestMatterForTodayThatTurnsUrgentAtOnceIsToldOnce(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Today, 0, "high-level"))
	r.until(time.Second)
	r.Raise(r.now(), message(controller.Urgent, 0, "high-level"))
	r.See(r.now(), latched(safety.HighLevel))
	r.until(10 * time.Minute)
	assert.Equal(t, []string{"1s arose high-level"}, r.told)
}

func TestCauseThatGrowsMoreUrgentIsToldAtOnceAndWantsToBeAcknowledgedAnew(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Today, 0, "crop-basil"))
	r.until(time.Hour)
	require.NoError(t, r.Acknowledge(r.Alarms()[0].ID, ""))
	r.Raise(r.now(), message(controller.Urgent, 0, "crop-basil"))
	r.until(time.Hour + time.Minute)
	require.NoError(t, r.Acknowledge(r.Alarms()[0].ID, ""))
	r.Raise(r.now(), message(controller.Urgent, 0, "crop-basil"))
	r.until(time.Hour + 2*time.Minute)
	assert.Equal(t, []string{"1m0s arose crop-basil", "1h0m0s arose crop-basil", "1h1m0s arose crop-basil"}, r.told)
	watered := controller.Message{Urgency: controller.ThisWeek, Bench: 0, Cause: "crop-basil", Text: "basil has been watered again.", Gone: true}
	r.Raise(r.now(), watered)
	r.until(2 * time.Hour)
	assert.Equal(t, "1h2m0s gone crop-basil", r.told[3])
}

func TestShelvedAlarmIsSilentUntilItsEndAndToldAnewWhenItStillStands(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
	r.until(time.Minute)
	id := r.Alarms()[0].ID
	require.NoError(t, r.Shelve(r.now(), id, 2*time.Hour, "the grower"))
	assert.Equal(t, Shelved, r.Alarms()[0].State())
	lamp, buzzer := r.Signals()
	assert.False(t, lamp || buzzer)
	r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
	assert.Len(t, r.until(2*time.Hour).told, 1)
	r.until(2*time.Hour + 2*time.Minute)
	assert.Equal(t, "2h1m0s arose leak", r.told[1])
	assert.ErrorContains(t, r.Shelve(r.now(), id, 30*time.Hour, ""), "up to 24 h", "what is urgent has a short shelf")
	assert.ErrorContains(t, r.Shelve(r.now(), 99, time.Hour, ""), "there is none of this number")
}

func TestShelvedAlarmWhoseCauseIsGoneEndsQuietly(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
	r.until(time.Minute)
	require.NoError(t, r.Shelve(r.now(), r.Alarms()[0].ID, time.Hour, ""))
	r.See(r.now(), &controller.Status{Benches: make([]controller.BenchStatus, 2)})
	r.until(3 * time.Hour)
	assert.Len(t, r.told, 1)
	assert.Empty(t, r.Alarms())
}

func TestAlarmOutOfServiceIsSilentUntilItIsPutBackAndEveryDigestSaysSo(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "leak"))
	r.until(time.Minute)
	id := r.Alarms()[0].ID
	assert.ErrorContains(t, r.Service(id, true, " "), "say who")
	require.NoError(t, r.Service(id, true, "the plumber"))
	r.until(8 * 24 * time.Hour)
	assert.Equal(t, []string{"0s arose leak", "150h0m0s digest digest"}, r.told)
	assert.Contains(t, r.summary(r.now()), "out of service by the plumber: leak happened.")
	require.NoError(t, r.Service(id, false, ""))
	r.until(8*24*time.Hour + time.Minute)
	assert.Equal(t, "192h0m0s arose leak", r.told[2])
}

func TestDigestComesEachWeekAlsoWhenNothingHappened(t *testing.T) {
	r := newRig(t)
	r.until(15 * 24 * time.Hour)
	assert.Equal(t, []string{"150h0m0s digest digest", "318h0m0s digest digest"}, r.told)
}

func TestDigestTellsOfTheWeek(t *testing.T) {
	r := newRig(t)
	r.until(time.Hour)
	r.Raise(r.now(), message(controller.ThisWeek, 0, "drift"))
	r.Raise(r.now(), message(controller.Today, 0, "flood"))
	r.Flooded(&controller.Flood{Bench: 0, Outcome: controller.Unproven})
	r.Flooded(&controller.Flood{Bench: 1, Outcome: controller.Proven})
	r.until(2 * time.Hour)
	text := r.summary(r.now())
	assert.Contains(t, text, "2 floods, 1 proven, 1 unproven.")
	assert.Contains(t, text, "1, today, since Mon 2 Mar 13:00, unacknowledged: flood happened.")
	assert.Contains(t, text, "Mon 2 Mar 13:00: drift happened.")
	assert.Equal(t, []string{"1h1m0s arose flood"}, r.told, "what is for this week waits for the digest")
}

func TestMessageSaysWhatHappenedWhatWasDoneWhatToDoAndByWhen(t *testing.T) {
	r := newRig(t)
	r.Raise(r.now(), message(controller.Urgent, 0, "high-level"))
	n := r.Step(r.now())[0]
	assert.Equal(t, "[now] greenhouse, north: Water too high", n.Subject)
	assert.Equal(t, `What happened
  high-level happened.

What was done
  Something was done.

What to do
  Do something.

By when
  Now: within the hour. The plants on north can wait for water until Tue 3 Mar 18:00.

Alarm 1, since Mon 2 Mar 12:00. It is repeated every 15 min until somebody says that he knows:
  benchtide acknowledge 1
`, n.Body)
}

// Whatever happens in whatever order, every urgent message leads to a notice at
// once unless a person keeps that alarm silent, nothing is repeated sooner than
// the rules say, and the list never asks to be woken in the past.
func TestUrgentMessagesAreNeverHeldBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := New(rules(), names)
		at := time.Duration(0)
		now := func() safety.Now {
			return safety.Now{Mono: time.Hour + at, Wall: start.Add(at), Trusted: rapid.Bool().Draw(t, "trusted")}
		}
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			cause := rapid.SampledFrom([]string{"leak", "crop-basil", "flood", "settings"}).Draw(t, "cause")
			bench := rapid.IntRange(-1, 1).Draw(t, "bench")
			n := now()
			raised := false
			switch rapid.IntRange(0, 7).Draw(t, "act") {
			case 0, 1:
				m := message(rapid.SampledFrom([]controller.Urgency{controller.Urgent, controller.Today, controller.ThisWeek}).Draw(t, "urgency"), bench, cause)
				p.Raise(n, m)
				raised = m.Urgency == controller.Urgent
			case 2:
				p.See(n, &controller.Status{Benches: make([]controller.BenchStatus, 2)})
			case 3:
				_ = p.Acknowledge(rapid.Int64Range(0, 9).Draw(t, "id"), "")
			case 4:
				_ = p.Shelve(n, rapid.Int64Range(1, 9).Draw(t, "id"), time.Duration(rapid.IntRange(0, 30).Draw(t, "hours"))*time.Hour, "")
			case 5:
				_ = p.Service(rapid.Int64Range(1, 9).Draw(t, "id"), rapid.Bool().Draw(t, "out"), "somebody")
			case 6:
				p.Flooded(&controller.Flood{Bench: max(0, bench), Outcome: controller.Proven})
			default:
				at += time.Duration(rapid.Int64Range(1, int64(30*time.Hour)).Draw(t, "passed"))
				n = now()
			}
			notices := p.Step(n)
			if raised {
				a := p.telling(p.bench(bench), cause)
				require.NotNil(t, a)
				found := false
				for _, o := range notices {
					found = found || o.Alarm.ID == a.ID && o.Kind == Arose
				}
				require.True(t, found || a.silent(), "%s was not told", cause)
			}
			seen := map[string]bool{}
			for i := range p.alarms {
				key := p.alarms[i].Bench + "/" + p.alarms[i].Cause
				require.False(t, seen[key], "two alarms of %s", key)
				seen[key] = true
			}
			require.Empty(t, p.Step(n), "the same is told twice")
			require.Greater(t, p.Next(), n.Mono)
			require.False(t, strings.Contains(p.summary(n), "%!"), "a slip in the digest")
		}
	})
}
