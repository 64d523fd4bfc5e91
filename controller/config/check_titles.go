package config

import (
	"strings"

	"benchtide/schedule"
)

// checkTitles warns of two things of one kind that people cannot tell apart.
func (r *reader) checkTitles(s *Site) {
	path := func(section string, names []string) func(int) string {
		return func(i int) string { return section + "." + names[i] + ".title" }
	}
	benches, reservoirs, plans := s.BenchNames(), s.ReservoirNames(), namesOf(s.Plans, func(p schedule.Plan) string { return p.Name })
	r.alike("bench", benches, s.Titles.Benches, s.Titles.Bench, path("benches", benches))
	r.alike("reservoir", reservoirs, s.Titles.Reservoirs, s.Titles.Reservoir, path("reservoirs", reservoirs))
	r.alike("plan", plans, s.Titles.Plans, s.Titles.Plan, path("plans", plans))
	r.alike("batch", s.BatchNames(), s.Titles.Batches, s.Titles.Batch, func(i int) string { return batchPath(i, ".title") })
}

// alike warns at each title that another thing of its kind has as its title or its
// name; of two titles at the second.
func (r *reader) alike(kind string, names []string, titles map[string]string, called func(string) string, path func(int) string) {
	same := func(a, b string) bool {
		return strings.EqualFold(strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " "))
	}
	for i, name := range names {
		for j, other := range names {
			later := j > i && titles[other] != ""
			if titles[name] != "" && name != other && !later && same(called(name), called(other)) {
				r.warnf(path(i), "%s: people call %s %s so too: give each a title of its own", titles[name], kind, other)
				break
			}
		}
	}
}
