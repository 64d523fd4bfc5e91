package loop

import (
	"benchtide/controller"
)

// Memory is a Ledger that forgets with the program: for rehearsals, and for a
// daemon without a state directory.
type Memory struct {
	Floods     []controller.Flood // the rows, in order of their first event
	Checkpoint *Checkpoint        // the newest
	Broken     bool               // nothing is stored or acknowledged, as on storage that is full or gone
	Lost       int                // rows and checkpoints that were not stored while Broken

	rows  map[int64]int
	acks  []Ack
	spare *Checkpoint // one that is no longer the newest
}

// Spare gives a checkpoint that nobody needs any more, nil when there is none.
func (m *Memory) Spare() *Checkpoint {
	cp := m.spare
	m.spare = nil
	return cp
}

// Record stores the floods of the events and the checkpoint.
func (m *Memory) Record(events []controller.Event, cp *Checkpoint) {
	for i := range events {
		m.event(&events[i])
	}
	switch {
	case cp == nil:
	case m.Broken:
		m.Lost++
		m.spare = cp
	default:
		m.spare, m.Checkpoint = m.Checkpoint, cp
	}
}

func (m *Memory) event(e *controller.Event) {
	if e.Flood.ID == 0 {
		return
	}
	if m.Broken {
		m.Lost++
		return
	}
	m.put(e.Flood)
	if e.Kind == controller.FloodIntended {
		m.acks = append(m.acks, Ack{Flood: e.Flood.ID, Attempt: e.Flood.Attempt})
	}
}

func (m *Memory) put(f controller.Flood) {
	if m.rows == nil {
		m.rows = make(map[int64]int)
	}
	if i, ok := m.rows[f.ID]; ok {
		m.Floods[i] = f
		return
	}
	m.rows[f.ID] = len(m.Floods)
	m.Floods = append(m.Floods, f)
}

// Acknowledged returns the intentions stored since the last call.
func (m *Memory) Acknowledged() []Ack {
	a := m.acks
	m.acks = m.acks[:0]
	return a
}
