//go:build killtest && linux && amd64

package killtest

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The example's slots that come due, and how long its pump rests between runs.
var slots = []string{"2026-03-12T08:30:00+00:00", "2026-03-12T15:00:00+00:00"}

const minRest = 14 * time.Minute

// verdict is what the next start made of a death.
type verdict struct {
	floods        map[string]int // by outcome
	doubled, lost int
	wrong         []string
}

func (v *verdict) say(n *int, format string, args ...any) {
	*n++
	v.wrong = append(v.wrong, fmt.Sprintf(format, args...))
}

// survive starts the program again on what is left, lets it live until the next
// flood has ended, and judges.
func survive(t testing.TB, program string, l lived) verdict {
	p, err := newDaemon(program, l.dir, quickly, func(*daemon, string) {})
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	p.started()
	defer func() { _ = p.cmd.Process.Kill() }() // it has ended unless the test failed
	rows := p.settled(t)
	notes, err := p.notes()
	require.NoError(t, err)
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGINT))
	<-p.read
	require.NoError(t, p.cmd.Wait(), strings.Join(p.said(), "\n"))

	v := verdict{floods: map[string]int{}}
	starts, err := pumpStarts(l.dir)
	require.NoError(t, err)
	turns := append(switched(l.lines), switched(p.said())...)
	v.judgeRows(rows, max(starts, ons(turns)))
	v.judgeRests(turns)
	if l.promised && !notes[aNote] {
		v.say(&v.lost, "an entry of the diary was accepted and is not there")
	}
	return v
}

// settled waits until every slot has its outcome.
func (d *daemon) settled(t testing.TB) []row {
	var rows []row
	for begun := time.Now(); time.Since(begun) < time.Minute; time.Sleep(50 * time.Millisecond) {
		var err error
		if rows, err = d.rows(); err != nil {
			continue // it does not answer yet
		}
		if n := len(rows); n > 0 && rows[n-1].Slot >= slots[1] && !slices.ContainsFunc(rows, func(r row) bool { return r.Outcome == "" }) {
			return rows
		}
	}
	require.Failf(t, "the slots never had their outcomes", "%+v\n%s", rows, strings.Join(d.said(), "\n"))
	return nil
}

// judgeRows holds the rows against how often the pump started.
func (v *verdict) judgeRows(rows []row, starts int) {
	bySlot, told := map[string]int{}, 0
	for _, r := range rows {
		v.floods[r.Outcome]++
		if r.Cause == "schedule" {
			bySlot[r.Slot]++
		}
		if r.Started != "" || r.Outcome == "interrupted" {
			told += r.Attempt + 1
		}
	}
	for _, s := range slots {
		switch n := bySlot[s]; {
		case n == 0:
			v.say(&v.lost, "slot %s has no row", s)
		case n > 1:
			v.say(&v.doubled, "slot %s has %d rows", s, n)
		}
	}
	if starts > told {
		v.say(&v.doubled, "the pump started %d times and the rows tell of %d: %+v", starts, told, rows)
	}
}

func ons(turns []turned) (n int) {
	for _, t := range turns {
		if t.on {
			n++
		}
	}
	return n
}

// judgeRests looks for a start within the rest of the run before. Of one that a
// death ended its start is what is known.
func (v *verdict) judgeRests(turns []turned) {
	for i := 1; i < len(turns); i++ {
		if rest := turns[i].at.Sub(turns[i-1].at); turns[i].on && rest < minRest {
			v.say(&v.doubled, "the pump started at %s, %s after its last run", turns[i].at, rest)
		}
	}
}

// tally sums verdicts up.
type tally struct {
	mu                             sync.Mutex
	kills, restarts, doubled, lost int
	floods                         map[string]int
}

func (s *tally) add(killed bool, v verdict) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if killed {
		s.kills++
	}
	s.restarts++
	s.doubled += v.doubled
	s.lost += v.lost
	if s.floods == nil {
		s.floods = map[string]int{}
	}
	for o, n := range v.floods {
		s.floods[o] += n
	}
}

func (s *tally) text(what string) string {
	sum, parts := 0, []string{}
	for _, o := range slices.Sorted(maps.Keys(s.floods)) {
		sum += s.floods[o]
		parts = append(parts, fmt.Sprintf("%d %s", s.floods[o], o))
	}
	return fmt.Sprintf("%s %d, restarts %d, floods %d (%s), doubled %d, lost %d", what, s.kills, s.restarts, sum, strings.Join(parts, ", "), s.doubled, s.lost)
}
