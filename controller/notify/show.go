package notify

import (
	"benchtide/controller"
	"benchtide/controller/notify/alarm"
)

// Shown is the present state, for a channel that shows it besides carrying messages.
type Shown struct {
	Site    string
	Benches []ShownBench
	Alarms  []alarm.Alarm
}

// ShownBench is what is shown of one bench.
type ShownBench struct {
	Name   string
	Status controller.BenchStatus
}

// Shower is a Channel that shows the present state. Show must not wait.
type Shower interface {
	Show(Shown)
}

// show hands the present state to the channels that show it. The lock is held.
func (d *Dispatcher) show() {
	s := Shown{Site: d.o.Names.Site, Alarms: d.alarms.Alarms()}
	for i := range d.snapshot.Benches {
		if i < len(d.o.Names.Benches) {
			s.Benches = append(s.Benches, ShownBench{d.o.Names.Benches[i], d.snapshot.Benches[i]})
		}
	}
	for _, w := range d.o.Channels {
		if shower, ok := w.(Shower); ok {
			shower.Show(s)
		}
	}
}
