package offline

import (
	"fmt"
	"strings"

	"benchtide/controller/grow"
	"benchtide/schedule"
)

// sketch draws a picture with letters, one for an equal part of its days.
type sketch struct {
	*grow.Forecast
	columns int
}

const (
	sketchWidth = 84
	mostADay    = 12 // columns
)

func newSketch(p *grow.Forecast) sketch { return sketch{p, min(sketchWidth, mostADay*p.Days)} }

// column is where a time stands; times past the end stand in the last one.
func (s sketch) column(at schedule.Civil) int {
	span := s.From.AddDays(s.Days).At(0) - s.From.At(0)
	return min(s.columns-1, int((at-s.From.At(0))*schedule.Civil(s.columns)/span))
}

// ruler writes dates where they begin, as far as there is room.
func (s sketch) ruler() string {
	row := []rune(strings.Repeat(" ", s.columns+8))
	free := 0
	for d := s.From; d < s.From.AddDays(s.Days); d++ {
		at := s.column(d.At(0))
		if at < free {
			continue
		}
		label := fmt.Sprintf("%d %s", d.Day(), d.Month().String()[:3])
		copy(row[at:], []rune(label))
		free = at + len(label) + 2
	}
	return strings.TrimRight(string(row), " ")
}

// floods counts those of each part: | for one.
func (s sketch) floods() string {
	row := []rune(strings.Repeat(" ", s.columns))
	counts := make([]int, s.columns)
	for _, f := range s.Floods {
		counts[s.column(f.Slot.Local)]++
	}
	for i, n := range counts {
		switch {
		case n == 1:
			row[i] = '|'
		case n > 9:
			row[i] = '+'
		case n > 1:
			row[i] = rune('0' + n)
		}
	}
	return strings.TrimRight(string(row), " ")
}

// course shows the lowest water of each part, from the limit to what a pot
// holds; ! is below the limit.
func (s sketch) course(c *grow.Course) string {
	lowest := make([]float64, s.columns)
	for i := range lowest {
		lowest[i] = 2
	}
	for _, p := range c.Points {
		lowest[s.column(p.At)] = min(lowest[s.column(p.At)], p.Share)
	}
	row := make([]rune, s.columns)
	last := ' '
	for i, share := range lowest {
		if share <= 1.5 {
			last = s.mark(share)
		}
		row[i] = last
	}
	return string(row)
}

func (s sketch) mark(share float64) rune {
	levels := []rune("▁▂▃▄▅▆▇█")
	if share < s.Limit {
		return '!'
	}
	return levels[min(len(levels)-1, int((share-s.Limit)/(1-s.Limit)*float64(len(levels))))]
}
