//go:build killtest && linux && amd64

package killtest

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var every = flag.Int("every", 1, "kill at one in so many writes")

// Speeds of the bench: at the first a write takes a minute or so of its time,
// at the second a day takes seconds.
const (
	slowly  = 1000
	quickly = 20000
)

var program string // the shipped one, built for this test

func TestMain(m *testing.M) {
	flag.Parse()
	dir, err := os.MkdirTemp("", "killtest")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	program = filepath.Join(dir, "benchtide")
	code := 1
	if out, err := exec.Command("go", "build", "-o", program, "benchtide/cmd/benchtide").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build the program: %v\n%s", err, out)
	} else {
		code = m.Run()
	}
	_ = os.RemoveAll(dir)
	os.Exit(code)
}

// death is one way to die: at the n-th change of the ledger's files, by a kill
// or by a power cut.
type death struct {
	program string
	from    string // a state directory to begin with; empty for none
	at      int    // 0: it lives
	flood   bool   // at is counted from the intention of the first flood: how many changes come before it depends on how busy the machine is
	power   bool
}

// aNote is what the program is asked to keep as soon as it answers.
const aNote = "the standpipe is clean"

// lived is what a program did until its death, and what it left.
type lived struct {
	dir      string
	lines    []string
	promised bool // it accepted the note
	changes  int  // of the ledger's files, the last of which it did not live to make
	killed   bool // it did not end by itself
	last     change
	intended int // the change that followed the intention of the first flood
}

// sinceIntended counts the changes from the one that followed the intention of
// the first flood on.
func (l *lived) sinceIntended() int {
	if l.intended == 0 {
		return 0
	}
	return l.changes - l.intended + 1
}

// live runs the program through the first flood, then stops it, unless it dies
// before.
func (d death) live(t testing.TB) lived {
	l := lived{dir: t.TempDir()}
	if d.from != "" {
		require.NoError(t, os.CopyFS(l.dir, os.DirFS(d.from)))
	}
	memory, err := cardOf(l.dir)
	require.NoError(t, err)
	noted := make(chan bool, 1)
	p, err := newDaemon(d.program, l.dir, slowly, func(p *daemon, line string) {
		switch {
		case strings.Contains(line, "metrics at"):
			go func() { noted <- p.note(aNote) == nil }()
		case strings.Contains(line, `"event":"flood ended"`):
			_ = p.cmd.Process.Signal(syscall.SIGINT)
		}
	})
	require.NoError(t, err)
	tr := tracer{
		before: func(c change) bool {
			l.changes++
			l.last = c
			if l.intended == 0 && saidOf(p.said(), `"event":"flood intended"`) {
				l.intended = l.changes
			}
			at := l.changes
			if d.flood {
				at = l.sinceIntended()
			}
			l.killed = l.killed || d.at > 0 && at == d.at
			return !l.killed
		},
		synced: func(file string) { require.NoError(t, memory.sync(filepath.Base(file))) },
	}
	require.NoError(t, tr.run(p.cmd, p.started))
	<-p.read
	if saidOf(p.said(), "metrics at") {
		l.promised = <-noted
	}
	l.lines = p.said()
	if l.killed && d.power {
		require.NoError(t, memory.cut(rand.New(rand.NewPCG(1, uint64(d.at)))))
	}
	return l
}

func saidOf(lines []string, what string) bool {
	for _, line := range lines {
		if strings.Contains(line, what) {
			return true
		}
	}
	return false
}

// kept is a state directory that a program has left in good order, before its
// first flood.
func kept(t testing.TB) string {
	dir := t.TempDir()
	p, err := newDaemon(program, dir, slowly, func(p *daemon, line string) {
		if strings.Contains(line, `"output":"air","on":true`) {
			_ = p.cmd.Process.Signal(syscall.SIGINT)
		}
	})
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	p.started()
	<-p.read
	require.NoError(t, p.cmd.Wait())
	return dir
}

func TestAKillAtAnyWriteLosesAndDoublesNothing(t *testing.T) {
	everyDeath(t, death{program: program}, "kills")
}

func TestAPowerCutAtAnyWriteLosesAndDoublesNothing(t *testing.T) {
	everyDeath(t, death{program: program, from: kept(t), power: true}, "power cuts")
}

// everyDeath dies at each change of the ledger's files, or one in so many, and
// prints what became of it.
func everyDeath(t *testing.T, d death, what string) {
	whole := d.live(t)
	require.False(t, whole.killed)
	require.True(t, whole.promised)
	t.Logf("%d changes of the ledger's files in a flood", whole.changes)
	var sum tally
	t.Run("at", func(t *testing.T) {
		first := 1 + int(time.Now().UnixNano()%int64(*every)) // not the same ones each time
		for at := first; at <= whole.changes; at += *every {
			t.Run(fmt.Sprint(at), func(t *testing.T) {
				t.Parallel()
				d := d
				d.at = at
				l := d.live(t)
				v := survive(t, d.program, l)
				sum.add(l.killed, v)
				require.Empty(t, v.wrong, "died at %s of %s", l.last.name, filepath.Base(l.last.file))
			})
		}
	})
	t.Log(sum.text(what))
	require.NotZero(t, sum.kills)
}

// TestAKillInAnyStateOfAFloodLosesAndDoublesNothing kills between the writes.
func TestAKillInAnyStateOfAFloodLosesAndDoublesNothing(t *testing.T) {
	var sum tally
	t.Run("in", func(t *testing.T) {
		for _, state := range []struct {
			name, begins string
			lasts        time.Duration // at least, of the bench's time
		}{
			{"stirring", `"output":"stirrer","on":true`, 9 * time.Minute},
			{"recording", `"event":"flood intended"`, time.Second},
			{"filling", `"output":"flood_pump","on":true`, 3 * time.Minute},
			{"holding", `"event":"full made"`, 5 * time.Minute},
			{"draining", `"output":"flood_pump","on":false`, 11 * time.Minute},
			{"at rest again", `"event":"flood ended"`, 60 * time.Minute},
		} {
			for n := range max(1, 10 / *every) {
				t.Run(fmt.Sprintf("%s/%d", state.name, n), func(t *testing.T) {
					t.Parallel()
					l := killAfter(t, state.begins, time.Duration(rand.Int64N(int64(state.lasts)))/slowly)
					v := survive(t, program, l)
					sum.add(l.killed, v)
					require.Empty(t, v.wrong)
				})
			}
		}
	})
	t.Log(sum.text("kills"))
}

// killAfter kills the program a while after it has said something.
func killAfter(t *testing.T, says string, delay time.Duration) lived {
	l := lived{dir: t.TempDir(), killed: true}
	p, err := newDaemon(program, l.dir, slowly, func(p *daemon, line string) {
		if strings.Contains(line, says) {
			time.AfterFunc(delay, func() { _ = p.cmd.Process.Kill() })
		}
	})
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	p.started()
	<-p.read
	require.Error(t, p.cmd.Wait(), "it was killed")
	l.lines = p.said()
	return l
}
