package config

import (
	"fmt"
	"slices"
	"strings"

	"benchtide/hw/lines"
)

// newer are the keys from after the first kind of file that would serve this one and
// are not in it, each once, at the first place for it. The file goes on working
// without them, so these are notes and no warnings.
func (r *reader) newer(s *Site) Problems {
	n := newWays{r: r}
	for i := range s.Reservoirs {
		res := &s.Reservoirs[i]
		if res.Inside.Area() == 0 {
			n.add(res.path(".inside"), "inside: "+r.units.Example(described.at(res.path(".inside")).Example))
		}
		if at := s.unweighed(i); at != "" {
			n.add(res.path(".level_switch"), fmt.Sprintf("level_switch: {line: %s, at: %s, water: closes}", s.freeLine(), at))
		}
		n.title(res.path(".title"), res.Name, s.Titles.Reservoirs)
	}
	for i := range s.Benches {
		n.title(s.Benches[i].path(".title"), s.Benches[i].Name, s.Titles.Benches)
	}
	for i := range s.Batches {
		b := &s.Batches[i]
		if b.Closed != 0 {
			continue
		}
		if b.Sown == 0 {
			n.add(batchPath(i, ".sown"), "the day, such as sown: "+b.Transplanted.AddDays(-trayDays).String())
		}
		n.title(batchPath(i, ".title"), b.Name, s.Titles.Batches)
	}
	for _, w := range s.wires() {
		if _, header := w.line.GPIO(); s.Board == GPIO && w.line.Name != "" && !header {
			n.add(w.path+".line.chip", "{chip: LABEL, offset: N} in place of "+w.line.Name+", as benchtide lines shows it")
		}
	}
	return n.notes()
}

// trayDays are the days in the tray of the day of sowing that is shown (common
// practice, no source).
const trayDays = 21

// unweighed is where a level switch of a reservoir would be passed by every fill, as
// it is written; empty where there is one, where each fill passes the low switch, and
// where no place would do.
func (s *Site) unweighed(reservoir int) (at string) {
	for i := range s.Benches {
		if w := s.Weighing(i); s.Benches[i].Reservoir == reservoir && s.Reservoirs[reservoir].Level == nil && !w.Weighs && w.At != nil {
			at = s.Units.Volume(*w.At)
		}
	}
	return at
}

// freeLine is a line of a Raspberry Pi's header that serves nothing else.
func (s *Site) freeLine() string {
	taken := map[int]bool{}
	for _, w := range s.wires() {
		n, _ := w.line.GPIO()
		taken[n] = true
	}
	for pin := 40; pin > 0; pin-- {
		if n, err := lines.HeaderPin(pin); err == nil && !taken[n] && lines.SecondJob(n) == "" {
			return fmt.Sprintf("GPIO%d", n)
		}
	}
	return "LINE"
}

// newWays gathers one note for each key by its name, and in how many places it stands.
type newWays struct {
	r    *reader
	all  Problems
	keys []string
	many []int
}

// add notes a key at its path, with what to write.
func (n *newWays) add(path, write string) {
	k := described.at(path)
	i := slices.Index(n.keys, k.Name())
	if i < 0 {
		section, _ := cutLast(path)
		n.all = append(n.all, n.r.warning(section, k.Older+"; write "+write))
		n.keys, n.many, i = append(n.keys, k.Name()), append(n.many, 0), len(n.keys)
	}
	n.many[i]++
}

// title notes one of a name that reads like a machine's.
func (n *newWays) title(path, name string, titles map[string]string) {
	if titles[name] == "" && strings.Contains(name, "_") {
		words := strings.ReplaceAll(name, "_", " ")
		n.add(path, "title: "+strings.ToUpper(words[:1])+words[1:])
	}
}

func (n *newWays) notes() Problems {
	for i, many := range n.many {
		n.all[i].Warning = false
		if many > 1 {
			n.all[i].Text += fmt.Sprintf(" (so too in %d more)", many-1)
		}
	}
	n.all.sort()
	return n.all
}
