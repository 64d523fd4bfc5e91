package daemon

import (
	"time"

	"benchtide/cmd/benchtide/onsite"
	"benchtide/controller/config"
	"benchtide/controller/loop"
	"benchtide/controller/rehearse"
	"benchtide/hw"
	"benchtide/hw/gpio"
	"benchtide/hw/sim/realtime"
)

// machine is a board with its clock.
type machine struct {
	clock   hw.Clock
	mono    func() time.Duration // the boot-time clock, for any goroutine
	board   hw.Board
	boot    string
	deadMan bool
	sinks   []loop.Sink // that go with the board
	alive   func()      // is told of each good turn; may be nil
	speed   float64     // how much faster than real time the clock runs; 0 means it does not
}

// openWired puts the outputs of a wired site off before the rest of its file is
// looked at, which takes most of a start. It returns nil where nothing is wired,
// or where the file is not fit for reading, as is told when that is done whole.
func openWired(name string, text []byte) (hw.Board, error) {
	site, err := config.Wiring(name, text)
	if err != nil || site.Board != config.GPIO {
		return nil, nil
	}
	return gpio.Open(onsite.Wiring(site))
}

func closeBoard(b hw.Board) error {
	if b == nil {
		return nil
	}
	return b.Close()
}

// openMachine puts the site's board, open already or not, beside the machine's
// own clock.
func openMachine(site *config.Site, clock *hw.SystemClock, opened hw.Board) (machine, error) {
	m := machine{clock: clock, mono: func() time.Duration { return clock.Now().Mono }, boot: hw.BootID(), deadMan: true, board: opened}
	if opened != nil {
		return m, nil
	}
	if site.Board == config.GPIO {
		board, err := gpio.Open(onsite.Wiring(site))
		m.board = board
		return m, err
	}
	world, err := rehearse.NewWorld(site, clock.Now().Wall)
	if err != nil {
		return m, err
	}
	m.board = realtime.NewBoard(world, clock, site.Limits())
	return m, nil
}
