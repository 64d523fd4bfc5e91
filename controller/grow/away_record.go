package grow

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchtide/controller/quantity"
)

// recorded are the items that the record tells: what is fine of each, and what
// is wrong.
var recorded = [...]struct {
	name string
	look func(*Away) (fine string, wrong []string)
}{
	{"Water goes no faster than plants use it", (*Away).used},
	{"The last floods are proven", (*Away).proven},
	{"Fill and fall times as they were", (*Away).baseline},
	{"Switches tested within 30 days", (*Away).proofs},
	{"Screen and standpipe cleaned within 3 days", (*Away).cleaned},
	{"Solution good until the return", (*Away).solutions},
	{"Nothing is held, paused or latched", (*Away).held},
}

// used holds the top-ups of the diary against what is worked out.
func (a *Away) used() (fine string, wrong []string) {
	var all []string
	for r, res := range a.Reservoirs {
		use, err := a.learn(r)
		switch {
		case err != nil:
			wrong = append(wrong, err.Error())
		case use.Wrong:
			wrong = append(wrong, a.Site.Called.Reservoir(res.Name)+": "+use.Words)
		default:
			all = append(all, a.Site.Called.Reservoir(res.Name)+": "+use.Words)
		}
	}
	return strings.Join(all, "; "), wrong
}

func (a *Away) learn(reservoir int) (Use, error) {
	if a.Record == nil {
		return Use{Scale: 1}, nil
	}
	var on []int
	for i, b := range a.Site.Batches {
		if a.Benches[b.Bench].Reservoir == reservoir {
			on = append(on, i)
		}
	}
	name := a.Reservoirs[reservoir].Name
	return a.Site.LearnFrom(on, a.Record.Weighed[name], a.Record.Diary[name], a.Record.Now, a.Zone)
}

const lastFloods = 10

func (a *Away) proven() (fine string, wrong []string) {
	floods := a.Record.Floods[max(0, len(a.Record.Floods)-lastFloods):]
	for _, f := range floods {
		if !f.Proven {
			wrong = append(wrong, fmt.Sprintf("%s of %s is %s", a.Site.Called.Bench(a.Benches[f.Bench].Name), f.Due.In(a.Zone).Format("2 Jan 15:04"), f.Outcome))
		}
	}
	if len(floods) < lastFloods {
		wrong = append(wrong, fmt.Sprintf("only %d floods are on record", len(floods)))
	}
	return fmt.Sprintf("all of the last %d", len(floods)), wrong
}

// Three floods are looked at; 15 % off is where a pump wants cleaning (common
// practice, no source).
const (
	newestFloods = 3
	offBaseline  = 0.15
	enoughBefore = 7 // floods that make a baseline; with fewer it is the bench's sheet
)

func (a *Away) baseline() (fine string, wrong []string) {
	var all []string
	for i, b := range a.Benches {
		var fills, falls []time.Duration
		for _, f := range a.Record.Floods {
			if f.Bench == i && f.Fill > 0 && f.Fall > 0 {
				fills, falls = append(fills, f.Fill), append(falls, f.Fall)
			}
		}
		if len(fills) == 0 {
			wrong = append(wrong, a.Site.Called.Bench(b.Name)+": no flood was measured")
			continue
		}
		for _, m := range []struct {
			what  string
			times []time.Duration
			sheet time.Duration
		}{{"fills", fills, b.Fill}, {"falls", falls, b.Fall}} {
			now, was := ends(m.times, m.sheet)
			text := fmt.Sprintf("%s %s in %s, was %s", a.Site.Called.Bench(b.Name), m.what, quantity.Duration(now), quantity.Duration(was))
			if off := float64(now)/float64(was) - 1; off > offBaseline || off < -offBaseline {
				wrong = append(wrong, text)
			} else {
				all = append(all, text)
			}
		}
	}
	return strings.Join(all, "; "), wrong
}

// ends is the middle of the newest times and of those before.
func ends(times []time.Duration, sheet time.Duration) (now, was time.Duration) {
	at := max(0, len(times)-newestFloods)
	now, was = middle(times[at:]), sheet
	if at >= enoughBefore {
		was = middle(times[:at])
	}
	return now, was
}

func middle(times []time.Duration) time.Duration {
	sorted := slices.Sorted(slices.Values(times))
	return sorted[len(sorted)/2]
}

const testedWithin = 30 * day

func (a *Away) proofs() (fine string, wrong []string) {
	tested := func(name string) {
		var last time.Time
		for _, p := range a.Record.Proofs {
			if p.Switch == name && p.At.After(last) {
				last = p.At
			}
		}
		switch {
		case last.IsZero():
			wrong = append(wrong, name+" was never tested")
		case a.Record.Now.Sub(last) > testedWithin:
			wrong = append(wrong, fmt.Sprintf("%s was tested last on %s", name, last.In(a.Zone).Format("2 Jan")))
		}
	}
	for _, b := range a.Benches {
		if b.High {
			tested(b.Name + ".high")
		}
	}
	for _, r := range a.Reservoirs {
		if r.Low {
			tested(r.Name + ".low")
		}
	}
	return "all of them", wrong
}

func (a *Away) cleaned() (fine string, wrong []string) {
	for _, b := range a.Benches {
		all := inOrder(append(slices.Clone(a.Record.Diary[b.Name]), a.Record.Diary[""]...), Cleaning)
		if len(all) == 0 || a.Record.Now.Sub(all[len(all)-1].At) > 3*day {
			wrong = append(wrong, a.Site.Called.Bench(b.Name)+": clean them now and write it into the diary")
		}
	}
	return "by the diary", wrong
}

func (a *Away) solutions() (fine string, wrong []string) {
	back := a.Until.At(0).In(a.Zone)
	var all []string
	for _, r := range a.Reservoirs {
		s := SolutionOf(append(slices.Clone(a.Record.Diary[r.Name]), a.Record.Diary[""]...), r.Usable, back, a.Site.Units)
		if len(s.Reasons) > 0 {
			wrong = append(wrong, a.Site.Called.Reservoir(r.Name)+", at the return: "+strings.Join(s.Reasons, ", "))
		} else {
			all = append(all, fmt.Sprintf("%s: %.0f days old at the return", a.Site.Called.Reservoir(r.Name), s.Days))
		}
	}
	return strings.Join(all, "; "), wrong
}

func (a *Away) held() (fine string, wrong []string) { return "nothing", a.Record.Held }
