package grow

import (
	"fmt"
	"time"

	"benchtide/schedule"
)

// Stand is how a batch stands by what was written down of it.
type Stand struct {
	Count
	Counted bool      // something about its pots is written down
	Scores  []float64 // of moisture over the last days, oldest first
}

// scoresFor is how long a moisture score says something (common practice, no
// source: young plants in warm weather dry within it).
const scoresFor = 4 * day

// Stand works out how a batch stands by the diary of it. Where no pots are
// entered as sown or transplanted there, the file's number was transplanted.
func (s *Site) Stand(batch int, r *Record, zone *time.Location) Stand {
	b := &s.Batches[batch]
	entries := s.Counted(batch, r.Diary[b.Name], zone)
	k := Stand{Count: countOf(entries), Counted: len(inOrder(r.Diary[b.Name], counts...)) > 0}
	for _, e := range inOrder(entries, Moisture) {
		if r.Now.Sub(e.At) < scoresFor {
			k.Scores = append(k.Scores, e.Value)
		}
	}
	return k
}

// apart is how much younger pots are when they want another stage (judgement, no
// source).
const apart = 5 * day

// mixed reports whether pots of clearly different ages stand.
func (k *Stand) mixed() bool {
	n := len(k.Cohorts)
	return n > 1 && k.Cohorts[n-1].Since.Sub(k.Cohorts[0].Since) >= apart
}

// counts are the kinds of entries that count pots.
var counts = []EntryKind{Sown, Germinated, Resown, Thinned, Transplanted, Lost, MovedOut}

// Counted is the diary of a batch with the pots that it began with.
func (s *Site) Counted(batch int, entries []Entry, zone *time.Location) []Entry {
	if len(inOrder(entries, Sown, Transplanted)) > 0 {
		return entries
	}
	b := &s.Batches[batch]
	return append([]Entry{{At: b.Transplanted.At(0).In(zone), Kind: Transplanted, Value: float64(b.Demand.Pots)}}, entries...)
}

// Question is something that only a person can tell about a bench or a batch.
type Question struct {
	Bench, Batch int // Batch is -1 where it is about the bench
	Text         string
}

// recently is how far back floods of an empty bench are asked about.
const recently = 3 * day

// offCount is the share by which the pots of the file and of the diary may differ
// before they are asked about (judgement, no source).
const offCount = 0.1

// Questions asks about batches that nothing floods, floods for which nothing
// stands there, and pots that file and diary count differently.
func (s *Site) Questions(d schedule.Date, r *Record, zone *time.Location) (all []Question) {
	ask := func(bench, batch int, format string, args ...any) {
		all = append(all, Question{bench, batch, fmt.Sprintf(format, args...)})
	}
	stands := make([]bool, len(s.Falls))
	for i := range s.Batches {
		b := &s.Batches[i]
		if d < b.Transplanted || b.Closed != 0 && d > b.Closed {
			continue
		}
		stands[b.Bench] = true
		k := s.Stand(i, r, zone)
		switch left := k.Left(); {
		case len(s.floodsOn(b.Bench, d, d.AddDays(2))) == 0:
			ask(b.Bench, i, "%s stands on its bench, and no flood is planned for it today or tomorrow. Has it gone? Then close it. Otherwise look at its plan.", b.Name)
		case !k.Counted:
		case left == 0:
			ask(b.Bench, i, "By the diary no pot of %s is left, and its bench goes on flooding for it. Has it gone? Then close it. Otherwise put the counts right.", b.Name)
		case k.mixed():
			young := k.Cohorts[len(k.Cohorts)-1]
			ask(b.Bench, i, "%d pots of %s began again on %s and are a younger batch. Shall they set strength and hold? Then enter them into the file as one of their own.",
				young.Pots, b.Name, schedule.CivilIn(young.Since, zone).Date())
		case off(left, b.Demand.Pots):
			ask(b.Bench, i, "By the diary %d pots of %s stand, and the file says %d. Which is right? What is worked out follows the file.", left, b.Name, b.Demand.Pots)
		}
	}
	for bench, busy := range stands {
		seen := 0
		for _, f := range r.Floods {
			if f.Bench == bench && f.Proven && r.Now.Sub(f.Due) < recently && !s.stoodOn(bench, f.Due, zone) {
				seen++
			}
		}
		if !busy && seen > 0 {
			ask(bench, -1, "The bench had %s in the last three days, and no batch stands on it. Which plants are these? Enter the batch into the file, or mark the table empty and leave the floods.", floods(seen))
		}
	}
	return all
}

func off(a, b int) bool {
	return float64(a) < (1-offCount)*float64(b) || float64(a) > (1+offCount)*float64(b)
}

// stoodOn reports whether some batch stood on the bench then.
func (s *Site) stoodOn(bench int, at time.Time, zone *time.Location) bool {
	d := schedule.CivilIn(at, zone).Date()
	for i := range s.Batches {
		if b := &s.Batches[i]; b.Bench == bench && d >= b.Transplanted && (b.Closed == 0 || d <= b.Closed) {
			return true
		}
	}
	return false
}
