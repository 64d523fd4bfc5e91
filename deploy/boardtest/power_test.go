//go:build boardtest

package boardtest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller"
	"benchtide/controller/ledger"
	"benchtide/deploy/boardtest/console"
)

// cuts are what each board goes through; twenty-one in all. In mid-write is
// while the daemon, just started, records what it missed. A fill after a boot in
// which a pump has run needs a rest of minutes, so each board has one, the first.
var cuts = []struct{ midFill bool }{{true}, {false}, {false}}

const cutBoards = 7

func TestPowerCutsLoseAndDoubleNothing(t *testing.T) {
	t.Parallel()
	for n := range cutBoards {
		t.Run(fmt.Sprint("board ", n), func(t *testing.T) {
			t.Parallel()
			r := newRig(t, twoBenches)
			r.card = filepath.Join(t.TempDir(), "card.img")
			require.NoError(t, newCard(r.card))
			phase := rand.New(rand.NewPCG(uint64(n), 3))
			known := map[key]controller.Row{}
			for _, cut := range cuts {
				r.workAndCut(known, cut.midFill, phase)
			}
			r.requireSettled(known)
			r.requireDry()
		})
	}
}

// key names a flood as a person would.
type key struct{ bench, slot string }

// workAndCut boots the board, lets the daemon work, cuts its power, and looks
// at what it drove and what it left on the card.
func (r *rig) workAndCut(known map[key]controller.Row, midFill bool, phase *rand.Rand) {
	r.t.Helper()
	r.powerOn()
	from := r.mark()
	r.setClock("09:00", 0)
	r.serve()
	if midFill {
		r.stepClock("10:00", time.Second)
		r.awaitPump(from, time.Minute, "on_low")
		time.Sleep(time.Duration(phase.Int64N(int64(3 * time.Second))))
	} else {
		r.awaitEntry(from, time.Minute, "an outcome", func(e entry) bool { return e.Event == "flood ended" })
		time.Sleep(time.Duration(phase.Int64N(int64(60 * time.Millisecond))))
	}
	board, said := r.board, r.log(0)
	r.powerCut()
	writes, err := board.Writes()
	require.NoError(r.t, err)
	r.requireAllowed(board, writes)
	r.requireKept(known, said)
}

// requireAllowed checks that from power-on no pump circuit was energised
// before the guard could allow it: not until the daemon had run for as long as
// a full table takes to drain.
func (r *rig) requireAllowed(board *Machine, writes []Write) {
	r.t.Helper()
	started := time.Time{}
	for _, e := range board.Events() {
		if e.Event == "started" {
			started = e.At
		}
	}
	require.False(r.t, started.IsZero())
	for i, b := range r.site.Limits().Benches {
		spans := r.circuits()[b.Name].Energised(writes)
		require.LessOrEqual(r.t, len(spans), 1, "runs of %s in one boot", b.Name)
		for _, s := range spans {
			require.GreaterOrEqual(r.t, s.From.Sub(started), r.site.Limits().Benches[i].Drain, b.Name)
		}
	}
}

// requireKept checks the card as the cut left it: every flood that was told to
// have started is there, once, and no outcome that was there has changed.
func (r *rig) requireKept(known map[key]controller.Row, said []entry) {
	r.t.Helper()
	rows := r.rows()
	byID := map[int64]string{}
	for k, row := range rows {
		byID[row.ID] = k.bench
	}
	for _, e := range said {
		if e.Event == "pump started" {
			require.NotContains(r.t, e.Text, "not recorded")
			require.Equal(r.t, e.Bench, byID[e.Flood], "the row of flood %d", e.Flood)
		}
	}
	for k, before := range known {
		now, kept := rows[k]
		require.True(r.t, kept, "lost: %v", k)
		if before.Outcome != "" {
			require.Equal(r.t, before, now, "an outcome changed")
		}
	}
	for k, row := range rows {
		known[k] = row
	}
}

// rows reads the ledger on a copy of the card, as the board would find it:
// the file system's journal replayed, then the ledger's own.
func (r *rig) rows() map[key]controller.Row {
	r.t.Helper()
	dir := r.t.TempDir()
	copied := filepath.Join(dir, "card.img")
	r.shell("cp", "--sparse=always", r.card, copied)
	out, err := exec.Command("/sbin/e2fsck", "-p", copied).CombinedOutput()
	var exit *exec.ExitError
	if err != nil {
		require.ErrorAs(r.t, err, &exit, "%s", out)
		require.Equal(r.t, 1, exit.ExitCode(), "the file system mends itself: %s", out)
	}
	state := filepath.Join(dir, "state")
	require.NoError(r.t, os.Mkdir(state, 0o700))
	r.shell("/sbin/debugfs", "-R", "rdump /benchtide "+state, copied)
	l, recovered, err := ledger.Open(filepath.Join(state, "benchtide"), ledger.Options{Limits: r.site.Limits(), Zone: r.site.Zone})
	require.NoError(r.t, err)
	defer l.Close()
	require.NoError(r.t, recovered.Trouble)
	floods, err := l.Floods(r.t.Context(), ledger.Query{})
	require.NoError(r.t, err)
	rows := map[key]controller.Row{}
	for _, row := range floods {
		k := key{row.Bench, row.Slot}
		_, doubled := rows[k]
		require.False(r.t, doubled, "doubled: %v", k)
		rows[k] = row
	}
	return rows
}

func (r *rig) shell(name string, args ...string) {
	r.t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	require.NoError(r.t, err, "%s", out)
}

// requireSettled boots once more and lets the daemon stop by itself: every
// slot since the first has one row and an outcome.
func (r *rig) requireSettled(known map[key]controller.Row) {
	r.t.Helper()
	r.powerOn()
	from := r.mark()
	r.setClock("20:00", 0) // no slot is due any more or may still be late
	r.serve()
	time.Sleep(3 * time.Second)
	r.do(console.Request{Do: "stop"})
	said := r.log(from)
	r.powerCut()
	r.requireKept(known, said)
	outcomes := map[controller.Outcome]int{}
	for k, row := range known {
		require.NotEmpty(r.t, row.Outcome, "%v", k)
		outcomes[row.Outcome]++
	}
	r.t.Log("outcomes after the last boot: ", outcomes)
	// The first day's slots from 10:00, four of them, then all five of each
	// day with a cut and of this one: on two benches.
	require.Len(r.t, known, 2*(4+5*len(cuts)))
}
