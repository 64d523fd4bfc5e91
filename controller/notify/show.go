package notify

import (
	"benchtide/controller"
	"benchtide/controller/notify/alarm"
)

// Shown is the present state, for a way that shows it besides carrying parcels.
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

// Shower is a Way that shows the present state. Show must not wait.
type Shower interface {
	Show(Shown)
}

// show hands the present state to the ways that show it. The lock is held.
func (d *Desk) show() {
	s := Shown{Site: d.o.Names.Site, Alarms: d.panel.Alarms()}
	for i := range d.picture.Benches {
		if i < len(d.o.Names.Benches) {
			s.Benches = append(s.Benches, ShownBench{d.o.Names.Benches[i], d.picture.Benches[i]})
		}
	}
	for _, w := range d.o.Ways {
		if shower, ok := w.(Shower); ok {
			shower.Show(s)
		}
	}
}
