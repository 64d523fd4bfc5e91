package campaign

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/rehearse"
	"benchtide/safety"
)

// Report is what came of a campaign.
type Report struct {
	Seed       uint64 `json:"seed"`
	Nature     string `json:"nature,omitempty"` // that the benches were drawn from; empty for the plain ones
	BenchYears int    `json:"bench_years"`
	Sites      int    `json:"sites"`
	Months     int    `json:"months"`
	NotTimed   int    `json:"not_timed,omitempty"` // more months, of benches that commissioning would refuse as nature made them

	Floods map[controller.Outcome]int `json:"floods"`
	Trips  map[safety.Interlock]int   `json:"trips"` // times that an interlock acted or refused, also at 0

	NoFault Share `json:"no_fault"` // months in which nothing was wrong
	Alone   Share `json:"alone"`    // months of one fault
	Pairs   Share `json:"pairs"`    // months of two

	SpilledL        float64 `json:"spilled_l"`               // hoses off and leaking reservoirs included
	HeldSpilledL    float64 `json:"spilled_layer_healthy_l"` // the most of a month whose one fault leaves a layer healthy
	LongestDryS     float64 `json:"longest_dry_s"`           // of one run
	LongestGuardedS float64 `json:"longest_dry_guarded_s"`   // the same where low switches are fitted and nothing was wrong with them
	LongestWaitH    float64 `json:"longest_wait_h"`          // from all mended to the first flood that counted

	Kinds    map[string]*Kind `json:"kinds"`    // by fault
	Charges  map[string]int   `json:"charges"`  // months by what is wrong with them, also at 0
	Failures []Failure        `json:"failures"` // the months themselves
}

// Share counts months.
type Share struct {
	Months     int `json:"months"`
	Spilled    int `json:"spilled"`    // water on the floor
	RanDry     int `json:"ran_dry"`    // a pump ran dry
	PastBound  int `json:"past_bound"` // more of either than is stated for the fault; for pairs nothing is
	Silent     int `json:"silent"`     // harm of which nobody was told
	Broken     int `json:"broken"`     // invariants
	NotWatered int `json:"not_watered_again"`
}

// Kind is one kind of fault. All but Months is of months in which it was alone.
type Kind struct {
	Rows    string `json:"failures,omitempty"` // the failures it stands for
	Months  int    `json:"months"`
	Alone   int    `json:"alone"`
	Harmed  int    `json:"harmed"` // alone, and a planned flood did not count
	Latched int    `json:"latched"`

	SpilledL float64 `json:"most_spilled_l"`
	BoundL   float64 `json:"bound_l"` // of that month
	DryS     float64 `json:"longest_dry_s"`

	// From when it could first show, the fault's begin or the next start of a
	// pump, to the first message: of months in which nobody else did anything.
	Told        int     `json:"told"`
	MedianTellS float64 `json:"median_to_message_s"`
	WorstTellS  float64 `json:"worst_to_message_s"`

	tells []time.Duration
}

// Failure is a month that failed.
type Failure struct {
	Site     int      `json:"site"`  // number in the campaign
	Month    int      `json:"month"` // from 1, through all years of the site
	Charges  []Charge `json:"charges"`
	Scenario string   `json:"scenario,omitempty"` // made smaller, as a file
	Config   string   `json:"config,omitempty"`   // its site, as a file
	FirstOut []string `json:"first_out"`          // what happened first, in order
}

func newReport(o *Options) *Report {
	rep := &Report{
		Seed: o.Seed, Floods: map[controller.Outcome]int{}, Trips: map[safety.Interlock]int{},
		Kinds: map[string]*Kind{}, Charges: map[string]int{}, Failures: []Failure{},
	}
	if o.Nature != nil {
		rep.Nature = o.Nature.Name
	}
	for _, out := range controller.Outcomes {
		rep.Floods[out] = 0
	}
	for _, i := range safety.Interlocks {
		rep.Trips[i] = 0
	}
	for _, k := range kinds {
		rep.Kinds[k.what] = &Kind{Rows: k.rows}
	}
	for _, c := range [...]string{invariant, spilled, ranDry, silent, unwatered, early, needless, unserved} {
		rep.Charges[c] = 0
	}
	return rep
}

// Fine reports whether no month failed.
func (r *Report) Fine() bool { return len(r.Failures) == 0 }

// add adds site i.
func (r *Report) add(ctx context.Context, o *Options, i int, l *life) error {
	r.Sites++
	r.BenchYears += years * len(l.place.Site.Benches)
	for m, j := range l.months {
		r.count(j)
		if len(j.charges) > 0 {
			f, err := r.failure(ctx, o, i, m, l.place, j)
			if err != nil {
				return err
			}
			r.Failures = append(r.Failures, f)
		}
	}
	return nil
}

// count adds a month.
func (r *Report) count(j *judgement) {
	if len(j.report.NotTimed) > 0 {
		r.NotTimed++
		return
	}
	r.Months++
	for o, n := range j.report.Floods {
		r.Floods[o] += n
	}
	for _, t := range j.trips {
		r.Trips[t.why]++
	}
	for _, why := range j.refusals {
		r.Trips[why]++
	}
	r.water(j)
	share := &r.Pairs
	switch {
	case len(j.scenario.Faults) == 0:
		share = &r.NoFault
	case j.allowed.single:
		share = &r.Alone
	}
	share.add(j)
	for _, kind := range j.kinds() {
		r.Charges[kind]++
	}
	r.countKinds(j)
}

func (r *Report) water(j *judgement) {
	r.SpilledL += j.report.SpilledL
	r.LongestDryS = max(r.LongestDryS, j.longestDry.Seconds())
	r.LongestWaitH = max(r.LongestWaitH, j.waited.Hours())
	if j.allowed.single && !j.allowed.spills() {
		r.HeldSpilledL = max(r.HeldSpilledL, j.report.SpilledL)
	}
	if j.allowed.single && !j.allowed.dry {
		r.LongestGuardedS = max(r.LongestGuardedS, j.longestDry.Seconds())
	}
}

func (s *Share) add(j *judgement) {
	s.Months++
	tally := func(n *int, is bool) {
		if is {
			*n++
		}
	}
	tally(&s.Spilled, j.report.SpilledL > drops)
	tally(&s.RanDry, j.longestDry > dryFor)
	kinds := j.kinds()
	tally(&s.PastBound, slices.Contains(kinds, spilled) || slices.Contains(kinds, ranDry))
	tally(&s.Silent, slices.Contains(kinds, silent))
	tally(&s.Broken, slices.Contains(kinds, invariant))
	tally(&s.NotWatered, slices.Contains(kinds, unwatered))
}

// kinds lists the kinds of charges of a month, once each.
func (j *judgement) kinds() (all []string) {
	for _, c := range j.charges {
		if !slices.Contains(all, c.Kind) {
			all = append(all, c.Kind)
		}
	}
	return all
}

func (r *Report) countKinds(j *judgement) {
	faults := j.scenario.Faults
	var seen []string
	for _, f := range faults {
		if !slices.Contains(seen, f.What) {
			seen = append(seen, f.What)
			r.Kinds[f.What].Months++
		}
	}
	if len(faults) > 0 && j.allowed.single {
		r.Kinds[faults[0].What].addAlone(j, &faults[0])
	}
}

func (k *Kind) addAlone(j *judgement, f *rehearse.Fault) {
	k.Alone++
	if slices.ContainsFunc(j.ends, func(e end) bool { return e.at < mended }) {
		k.Harmed++
	}
	if slices.ContainsFunc(j.trips, func(t trip) bool { return t.latched }) {
		k.Latched++
	}
	if j.report.SpilledL > k.SpilledL {
		k.SpilledL = j.report.SpilledL
		k.BoundL = j.allowed.litres
	}
	k.DryS = max(k.DryS, j.longestDry.Seconds())
	if j.undisturbed() {
		if d, ok := j.told(f); ok {
			k.tells = append(k.tells, d)
		}
	}
}

// undisturbed reports whether nobody did anything but refill and test before all
// was mended, so that a message is about the fault.
func (j *judgement) undisturbed() bool {
	return j.scenario.Attended && !slices.ContainsFunc(j.scenario.Acts, func(a rehearse.Act) bool { return j.since(a.At) < mended })
}

// told is how long it took from when the fault could first show until a person
// was told; false when nobody was before all was mended.
func (j *judgement) told(f *rehearse.Fault) (time.Duration, bool) {
	began, bench := j.since(f.At), j.setting.bench(f.Where)
	told, ok := j.firstMessage(bench, began)
	if !ok || told >= mended {
		return 0, false
	}
	shows := began
	for _, s := range j.starts {
		if s.at > began && (bench < 0 || s.bench == bench) {
			shows = s.at
			break
		}
	}
	return told - min(told, max(began, shows)), true
}

// finish works out what all months together make of a kind.
func (r *Report) finish() {
	for k := range maps.Values(r.Kinds) {
		slices.Sort(k.tells)
		if k.Told = len(k.tells); k.Told > 0 {
			k.MedianTellS, k.WorstTellS = k.tells[k.Told/2].Seconds(), k.tells[k.Told-1].Seconds()
		}
	}
}

// failure is the account of a failed month, made smaller while there are few.
func (r *Report) failure(ctx context.Context, o *Options, site, month int, p *DrawnSite, j *judgement) (Failure, error) {
	f := Failure{Site: site, Month: month + 1, Charges: j.charges}
	if len(r.Failures) >= shrunk {
		f.FirstOut = j.firstOut()
		return f, nil
	}
	small, err := shrink(ctx, p, j)
	if err != nil {
		return f, err
	}
	var why strings.Builder
	fmt.Fprintf(&why, "campaign of seed %d, site %d, month %d", o.Seed, site, month+1)
	for _, c := range small.charges {
		fmt.Fprintf(&why, "\n%s: %s", c.Kind, c.Text)
	}
	f.Scenario, f.Config, f.FirstOut = write(small.scenario, p.Site.Zone, why.String()), p.Text, small.firstOut()
	return f, nil
}

// firsts is how long the record of what happened first is.
const firsts = 12

// firstOut lists what happened first after the trouble began: trips, messages
// and ends of floods that did not count.
func (j *judgement) firstOut() []string {
	began := time.Duration(0)
	if len(j.scenario.Faults) > 0 {
		began = j.since(j.scenario.Faults[0].At)
	}
	var all []note
	name := func(b int) string {
		if b < 0 {
			return "site"
		}
		return j.site.Benches[b].Name
	}
	for _, t := range j.trips {
		all = append(all, note{t.at, t.bench, fmt.Sprintf("%s acted: %s", t.why, t.text)})
	}
	for _, m := range j.messages {
		all = append(all, note{m.at, m.bench, "told: " + m.text})
	}
	for _, e := range j.ends {
		all = append(all, note{e.at, e.flood.Bench, fmt.Sprintf("flood %d is %s: %s", e.flood.ID, e.flood.Outcome, e.flood.Reason)})
	}
	for _, s := range j.spills {
		all = append(all, note{s.at, -1, fmt.Sprintf("%.1f L on the floor", s.litres)})
	}
	all = slices.DeleteFunc(all, func(n note) bool { return n.at < began })
	slices.SortStableFunc(all, func(a, b note) int { return cmp.Compare(a.at, b.at) })
	lines := []string{}
	for _, n := range all[:min(len(all), firsts)] {
		lines = append(lines, fmt.Sprintf("%s %s: %s", controller.Stamp(j.start.Add(n.at), j.site.Zone), name(n.bench), n.text))
	}
	return lines
}
