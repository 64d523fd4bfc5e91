package live

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"benchtide/controller"
	"benchtide/controller/texts"
	"benchtide/controller/texts/plain"
	"benchtide/safety"
)

// codes are the names for programs that no person reads.
func codes() (all []string) {
	for _, i := range safety.Interlocks {
		all = append(all, string(i))
	}
	for cause := range kinds {
		all = append(all, cause)
	}
	return all
}

// details are what the guard says of a bench called big_north, of each sort.
var details = []string{
	"", `HIGH of bench "big_north" shows water or its wire is open`, `HIGH of bench "south" shows water or its wire is open`,
	`the floor sensor of bench "big_north" shows water or its wire is open`, `the pump relay of bench "big_north" is welded: pull the plug and replace the relay`,
	`the enable relay stays open until it is known whether the pump relay of bench "south" is welded`, `the water of bench "south" is not back in reservoir "big_tank"`,
	`reservoir "big_tank" is too low: a flood of bench "big_north" needs 117 L above the 20 L kept`, "FULL was made after 12 s, too early for a fill of 3 min 3 s",
	"FULL was not made within 4 min 35 s", "FULL was lost for 10 s during the hold", "FULL has not cleared 3 min after the pump stopped; no enable relay can part a welded pump: pull its plug",
	"EMPTY was not made by a flood that made FULL", "HIGH shows water and FULL does not: look at both switches and their wires", `switch "full" changed more than 6 times within 10 s`,
	`switch "leak" was last read 0.6 s ago`, "the board did not obey: drive output \"flood_pump\": no answer", "the water counted reached what reservoir \"big_tank\" keeps before the table was full",
	"the program came 4.8 s late with a pump on", "3 program starts within 30 minutes with a pump run in each, for the second time within 24 hours",
	"38 L more than the plants can have drunk went in the last 2 floods, since Tue 19 May 11:00", "until Mon 2 Mar 13:00 by the gardener",
}

// Every text of what a person is needed for, for every cause and whatever is known
// of it, reads as people speak. The page, the status and the API show these alone.
func TestEveryNeedReadsAsPeopleSpeak(t *testing.T) {
	until, text := "2026-03-12T12:10:00+00:00", "no space left on device"
	names := []string{"big north", "south", "big tank"}
	judged := map[string]bool{}
	judge := func(s *Status) {
		for _, n := range s.causes() {
			for _, said := range append([]string{n.Words, n.Text}, n.Then...) {
				if judged[said] {
					continue
				}
				judged[said] = true
				assert.Empty(t, plain.Faults(said, codes(), names))
			}
			assert.NotEmpty(t, n.Words, n.Cause)
			assert.NotEmpty(t, n.Happened, n.Cause)
			assert.True(t, n.Urgency == noNeed || n.Do != "", "%s: what is to be done", n.Text)
		}
	}
	every := append([]safety.Interlock{controller.Paused, controller.Sanitising, controller.Attended, safety.HandsIn}, safety.Interlocks...)
	for _, i := range every {
		for _, d := range details {
			for _, since := range []float64{60, 90_000, 200_000, 7_000_000} {
				s := bed("big_north", "south")
				s.Batches[0].Name = "basil_spring"
				s.Batches[0].SinceS, s.Batches[0].Ratio = since, since/s.Batches[0].LimitS
				b := &s.Benches[0]
				b.Refusal = &Refusal{Interlock: string(i), Detail: d}
				judge(s)
				b.Refusal.Until = &until
				judge(s)
				b.Latched = []LatchedTrip{{At: s.At, Interlock: string(i), Detail: d}, {At: until, Interlock: "stalled", Detail: d}}
				b.Weld = i == safety.DrainWindow
				judge(s)
			}
		}
	}
	for _, o := range controller.Outcomes {
		for _, i := range append(every, "") {
			for _, d := range details {
				s := bed("big_north")
				s.Benches[0].Last = &controller.Row{Bench: "big_north", Outcome: o, Reason: controller.Because(string(i), d)}
				judge(s)
				said := "big north: the flood of Mon 2 Mar 08:30 " + Ended(texts.Titles{}, s.Benches[0].Last) + "."
				if !judged[said] {
					judged[said] = true
					assert.Empty(t, plain.Faults(said, codes(), names))
				}
			}
		}
	}
	north := "big_north"
	s := bed("big_north")
	s.HandsIn, s.ClockTrusted, s.Record.Trouble = true, false, &text
	s.Left = []LeftBench{{Name: "old_east", Latched: []LatchedTrip{{At: s.At, Interlock: "leak", Detail: details[3]}}}}
	s.Commissioning = CommissioningStatus{Why: "nothing of this wiring was checked", ProofTests: []ProofTest{{Bench: north, Overdue: true}}}
	s.Reservoirs = []ReservoirStatus{{Name: "big_tank", Missing: &Unexplained{Litres: 22.3, From: s.At, At: s.At}}, {Name: "other", Missing: &Unexplained{Litres: 1, Bench: &north, From: s.At, At: s.At}}}
	s.Benches[0].PausedUntil, s.Benches[0].Sanitising, s.Benches[0].Skipped = &until, &until, []SkippedFlood{{Due: until}}
	s.Batches[0].Name = "basil_spring"
	s.Batches[0].NoFlood, s.Batches[0].LimitBy, s.Batches[0].Ratio, s.Batches[0].SinceS = true, "pots", 2, 400_000
	judge(s)
	t.Logf("%d texts", len(judged))
}

func TestLongTimesAreDays(t *testing.T) {
	for d, want := range map[time.Duration]string{90 * time.Minute: "90 min", 47 * time.Hour: "47 h", 1940 * time.Hour: "80 days 20 h"} {
		assert.Equal(t, want, lasting(d.Seconds()), fmt.Sprint(d))
	}
}
