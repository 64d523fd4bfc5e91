package daemon

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw/sim"
	"benchtide/safety"
)

// simulated is a simulated bench as it is kept beside the ledger.
type simulated struct {
	Start time.Time       `json:"start"` // of the world
	World json.RawMessage `json:"world"`
}

const simulatedName = "simulated.json"

// resumeWorld brings the bench of the demo back to where the record is, in the
// state directory's own time: nothing runs on it meanwhile, and none but the
// record's time has passed. A first start begins a new one.
func resumeWorld(dir string, site *config.Site, cp *loop.Checkpoint, start time.Time) (*sim.World, time.Time, error) {
	data, err := os.ReadFile(filepath.Join(dir, simulatedName))
	switch {
	case errors.Is(err, fs.ErrNotExist) && cp == nil:
		w, err := rehearse.NewWorld(site, start)
		return w, start, err
	case err != nil:
		return nil, start, fmt.Errorf("go on with the simulated bench: %w; give another --state to begin anew", err)
	}
	var kept simulated
	if err := json.Unmarshal(data, &kept); err != nil {
		return nil, start, fmt.Errorf("go on with the simulated bench of %q: %w; give another --state to begin anew", dir, err)
	}
	w, err := rehearse.RestoreWorld(site, kept.Start, kept.World)
	if err != nil {
		return nil, start, fmt.Errorf("%w; give another --state to begin anew", err)
	}
	if err := w.Apply(safety.Command{}); err != nil {
		return nil, start, err
	}
	if cp != nil {
		w.Advance(w.Elapsed() + cp.Controller.Mono - w.Now().Mono)
	}
	return w, kept.Start, nil
}

// worldKeeper is a sink that keeps the simulated bench beside the ledger, at
// every turn with news. Only a demo's clock may wait for that.
type worldKeeper struct {
	world *sim.World
	start time.Time
	path  string
	tell  func(format string, args ...any)
	told  bool
}

func (k *worldKeeper) Turn(t *loop.Turn) {
	if len(t.Events) == 0 {
		return
	}
	if err := k.keep(); err != nil && !k.told {
		k.told = true
		k.tell("The simulated bench is not kept: %v", err)
	}
}

func (k *worldKeeper) keep() error {
	world, err := k.world.Snapshot()
	if err != nil {
		return err
	}
	data, err := json.Marshal(simulated{k.start, world})
	if err != nil {
		return err
	}
	return cli.ReplaceFile(k.path, data)
}
