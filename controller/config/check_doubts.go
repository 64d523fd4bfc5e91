package config

import (
	_ "embed"
	"math"
	"strconv"
	"strings"
	"sync"

	"benchtide/controller/quantity"
	"benchtide/controller/sheet"
	"benchtide/schedule"
)

// checkDoubts warns of numbers that are possible each alone, and hardly so beside
// another number of the file.
func (r *reader) checkDoubts(s *Site) {
	r.doubtLatitude(s)
	for i := range s.Benches {
		b := &s.Benches[i]
		r.doubtHose(b)
		r.doubtHead(s, b)
		r.doubtEmpty(b)
	}
	for i := range s.Plans {
		r.doubtStages(s, &s.Plans[i])
	}
}

//go:embed latitudes.tsv
var latitudeTable string

// latitudes are those of the places after which time zones are named, in degrees.
var latitudes = sync.OnceValue(func() map[string]float64 {
	of := map[string]float64{}
	for line := range strings.Lines(latitudeTable) {
		zone, degrees, found := strings.Cut(strings.TrimSpace(line), "\t")
		if lat, err := strconv.ParseFloat(degrees, 64); found && err == nil {
			of[zone] = lat
		}
	}
	return of
})

// zoneDegrees is how far north or south of the place after which its zone is named
// a site lies: Brownsville lies 16 degrees south of Chicago. The far north of
// China alone is further from Shanghai (from a map, from memory).
const zoneDegrees = 17

// doubtLatitude compares the latitude with that of the zone's own place. Where the
// sides of the equator differ, checkPlace has said so.
func (r *reader) doubtLatitude(s *Site) {
	if s.Location == nil || !r.sound("site") {
		return
	}
	of, known := latitudes()[s.Zone.String()]
	if !known || math.Abs(s.Location.Latitude-of) <= zoneDegrees || r.warned("site.latitude") {
		return
	}
	_, place, _ := strings.Cut(s.Zone.String(), "/")
	r.warnf("site.latitude", "%s: %s, after which the zone is named, lies at about %.0f: put the latitude right, north positive, or name the zone of the place",
		strconv.FormatFloat(s.Location.Latitude, 'f', -1, 64), strings.ReplaceAll(place, "_", " "), of)
}

// warned reports whether something was said of the number at path.
func (r *reader) warned(path string) bool {
	for _, p := range r.problems {
		if strings.HasPrefix(p.Text, path+": ") {
			return true
		}
	}
	return false
}

// doubtHose doubts a hose that does not reach from the water to the table.
func (r *reader) doubtHose(b *Bench) {
	path := b.path(".supply.length")
	if !r.sound(b.path(".supply")) || b.Supply.Length >= b.Supply.Lift || r.warned(path) || r.warned(b.path(".supply.lift")) {
		return
	}
	meant := lengths("", 0, b.Supply.Lift, hoseLengths.highest(), hoseLengths.highest()).meant(r.units, float64(b.Supply.Length))
	r.oddf(path, "%s: a hose that short does not reach from the water to a table %s above it%s", r.units.Size(b.Supply.Length), r.units.Size(b.Supply.Lift), meant)
}

func (b bounds) highest() quantity.Metres { return quantity.Metres(b.high) }

// wantedHead is the share of a pump's greatest head that should be left when it
// lifts to the crest: a pump loses some with the years, and its label promises a
// little more than it keeps (common practice, no source).
const wantedHead = 0.2

// doubtHead doubts a pump that only just lifts the water at the end of a fill, when
// the reservoir stands lowest. One that does not lift it from the mark is refused with
// the sheet.
func (r *reader) doubtHead(s *Site, b *Bench) {
	path := b.path(".supply.max_head")
	if len(b.Supply.Curve) > 0 {
		path = b.path(".supply.curve")
	}
	if b.Reservoir < 0 || b.Supply.MaxHead <= 0 || !r.sound(b.path(".supply"), b.path(".standpipe"), b.path(".table"), s.Reservoirs[b.Reservoir].path("")) ||
		r.warned(path) || r.warned(b.path(".supply.lift")) {
		return
	}
	marked, lowest, known := s.lifts(b)
	most, head := b.Supply.MaxHead, r.units.Head
	switch {
	case len(b.Supply.Curve) > 0 && b.Supply.Lift+b.Standpipe.Crest >= most:
		r.errorf(path, "the curve ends at %s, and the water has to be lifted %s: give the points up to where it brings nothing, or choose a pump with more head", head(most), head(rounded(b.Supply.Lift+b.Standpipe.Crest)))
	case marked >= most:
	case lowest >= most && known:
		r.errorf(path, "%s: a flood that begins with the low switch just made ends with the water lifted %s, so it stops before the table is full: choose a pump with more head, or set the switch higher", head(most), head(rounded(lowest)))
	case lowest > (1-wantedHead)*most:
		said := "the water is lifted " + head(rounded(lowest)) + " with the reservoir at its lowest"
		if !known {
			said += ", taken to be " + head(sheet.AssumedDepth) + " deep since its inside is not given"
		}
		r.oddf(path, "%s: %s, so less than a fifth of the head is in reserve: a pump that weakens a little brings next to nothing; choose one with %s or more",
			head(most), said, head(quantity.Metres(math.Ceil(float64(lowest)/(1-wantedHead)*10)/10)))
	}
}

// lifts is how high the water is lifted to the crest at the end of a fill: of one that
// began at the mark, and of one that began as low as it may. Pots in the water are left
// out. Known says that the reservoir's inside is.
func (s *Site) lifts(b *Bench) (marked, lowest quantity.Metres, known bool) {
	res := &s.Reservoirs[b.Reservoir]
	of := sheet.Bench{Usable: res.Usable, Surface: res.Inside.Area()}
	out := quantity.Litres(float64(b.Table.Length*b.Table.Width*b.Standpipe.Crest) * 1000)
	out = min(out, res.Usable-res.Keep)
	down, known := of.Drawdown(out)
	marked = b.Supply.Lift + b.Standpipe.Crest + down
	if res.Low == nil || res.LowAt >= res.Usable {
		return marked, marked, known
	}
	down, _ = of.Drawdown(min(out+res.Usable-res.LowAt, res.Usable-res.Keep))
	return marked, b.Supply.Lift + b.Standpipe.Crest + down, known
}

// bareAtMost is the highest that EMPTY stands above the floor of the table and can
// still prove it bare (common practice, no source).
const bareAtMost = 10 * millimetre

// doubtEmpty doubts an EMPTY switch under which pots stay wet.
func (r *reader) doubtEmpty(b *Bench) {
	if b.Empty == nil || b.Empty.At <= bareAtMost || !r.sound(b.path(".empty_switch"), b.path(".full_switch")) || r.warned(b.path(".empty_switch.at")) {
		return
	}
	r.oddf(b.path(".empty_switch.at"), "%s: water that deep would count as a bare table: set it on the floor of the table", r.units.Mark(b.Empty.At))
}

// Of the stages of a plan.
const (
	stageAtMost  = 120       // days that one lasts before the next
	weakerAtMost = 2.0 / 3.0 // of the strength of an earlier one
)

// doubtStages doubts stages that last half a year, that feed less than those
// before them, or that flood in the dark.
func (r *reader) doubtStages(s *Site, p *schedule.Plan) {
	if !r.sound("plans." + p.Name) {
		return
	}
	strongest := 0.0
	for j, st := range p.Stages {
		path := stagePath(p.Name, j, ".from_day")
		if j > 0 && !r.warned(path) && st.FromDay-p.Stages[j-1].FromDay > stageAtMost {
			r.oddf(path, "%d: the stage before it would last %d days%s", st.FromDay, st.FromDay-p.Stages[j-1].FromDay,
				counts("", 0, float64(p.Stages[j-1].FromDay+1), float64(p.Stages[j-1].FromDay+stageAtMost), longest).meant(r.units, float64(st.FromDay)))
		}
		if st.Strength < weakerAtMost*strongest && !r.warned(stagePath(p.Name, j, ".strength")) {
			r.oddf(stagePath(p.Name, j, ".strength"), "%s: an earlier stage has %s, and plants take more as they grow: look at both", percent(st.Strength), percent(strongest))
		}
		strongest = max(strongest, st.Strength)
		r.doubtNight(s, p, j)
	}
}

func percent(share float64) string {
	return quantity.In(quantity.Fraction(share), quantity.Percent)
}

// dusk is for how many seconds beside the sun's hours there is light enough.
const dusk = 3600

// doubtNight doubts a flood at a time that is dark on the longest day: plants take
// up little at night, and pots that stay wet grow fungi (common practice, no
// source).
func (r *reader) doubtNight(s *Site, p *schedule.Plan, stage int) {
	light := s.light()
	if light == nil || !r.sound("site", "lamps") {
		return
	}
	for _, at := range p.Stages[stage].At {
		if !lightAt(light, at) {
			r.oddf(stagePath(p.Name, stage, ".flood_at"), "%s: it is dark then all year round: plants drink little at night, and pots that stay wet rot", at)
			return
		}
	}
}

// lightAt reports whether there is light at a time of day on one of the longest
// days of either half of the globe. Where no sun rises or sets there is none to
// go by.
func lightAt(light schedule.Light, at schedule.TimeOfDay) bool {
	for _, d := range []schedule.Date{unplanted.AddDays(171), unplanted.AddDays(354)} {
		for _, begins := range []schedule.Date{d.AddDays(-1), d} {
			from, to, ok := light.Hours(begins)
			if !ok || d.At(at) >= from-dusk && d.At(at) <= to+dusk {
				return true
			}
		}
	}
	return false
}

// checkRoom doubts a low switch so near the mark that a single drink of the pots
// keeps every later flood from its start.
func (r *reader) checkRoom(s *Site, i int) {
	res := &s.Reservoirs[i]
	path := res.path(".low_switch.at")
	if res.Low == nil || len(r.odd) > 0 || !r.sound(res.path(""), "benches", "batches") || r.warned(path) {
		return
	}
	var drunk quantity.Litres
	for j := range s.Benches {
		if s.Benches[j].Reservoir == i {
			drunk += s.sheets[j].Drunk
		}
	}
	if room := res.Usable - res.LowAt; room == 0 || room < drunk {
		r.oddf(path, "%s: a full reservoir holds %s, so once the pots have drunk %s no flood may start until somebody tops it up: set it lower, or have a larger reservoir",
			r.units.Volume(res.LowAt), r.units.Volume(res.Usable), r.units.Volume(drunk))
	}
}
