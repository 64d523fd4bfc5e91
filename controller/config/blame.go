package config

import (
	"fmt"
	"slices"
	"strings"
)

// oddf warns of a number that is not what such a number is as a rule. When
// something cannot be because of it, it gets the blame.
func (r *reader) oddf(path, format string, args ...any) {
	r.odd = append(r.odd, path)
	r.warnf(path, "%s", then(fmt.Sprintf(format, args...), leaveIt))
}

const leaveIt = "If it is right, leave it"

// then puts one sentence after another.
func then(text, next string) string {
	if strings.HasSuffix(text, "?") {
		return text + " " + next
	}
	return text + ". " + next
}

// blame looks at the errors noted since there were so many problems. They
// concern what stands at some paths. Where a number there is odd, the first of
// these becomes the error, with what follows from it, and takes the place of
// what was noted since.
func (r *reader) blame(since int, paths ...string) {
	made := Problems(r.problems[since:]).Errors()
	culprit := slices.IndexFunc(r.odd, func(odd string) bool {
		return slices.ContainsFunc(paths, func(p string) bool { return odd == p || strings.HasPrefix(odd, p+".") })
	})
	if len(made) == 0 || culprit < 0 {
		return
	}
	path := r.odd[culprit]
	i := slices.IndexFunc(r.problems[:since], func(p Problem) bool { return p.Warning && strings.HasPrefix(p.Text, path+": ") })
	if i < 0 {
		return
	}
	blamed := &r.problems[i]
	blamed.Warning = false
	odd := strings.TrimSuffix(strings.TrimSuffix(blamed.Text, " "+leaveIt), ".")
	blamed.Text = then(odd, "With it "+made[0].Text)
	r.problems = r.problems[:since]
	r.bad = append(r.bad, path)
}

// causes are the paths of what the sheet of bench i is made from.
func (s *Site) causes(i int) []string {
	b := &s.Benches[i]
	paths := []string{b.path("")}
	if b.Reservoir >= 0 {
		paths = append(paths, s.Reservoirs[b.Reservoir].path(""))
	}
	for j := range s.Batches {
		if s.Batches[j].Bench == i {
			paths = append(paths, batchPath(j, ""))
		}
	}
	for _, p := range s.plansOn(i) {
		paths = append(paths, "plans."+s.Plans[p].Name)
	}
	return paths
}
