package rehearse

import (
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/hw/sim"
)

// storage is the machine's, which may take its time: one write at a time takes
// up all that waits, and only when it is done is that stored and acknowledged.
// What a death of the program finds on its way is lost.
type storage struct {
	*loop.Memory
	now     func() time.Duration
	takes   time.Duration // that a write takes which begins now
	waiting []record
	writing []record
	done    time.Duration // when the write under way is
}

// record is one turn's.
type record struct {
	events []controller.Event
	cp     *loop.Checkpoint
}

// slow sets how much of the longest a write takes.
func (s *storage) slow(share float64) { s.takes = time.Duration(share * float64(sim.SlowWrite)) }

// Record takes the events of a turn and the checkpoint after them.
func (s *storage) Record(events []controller.Event, cp *loop.Checkpoint) {
	s.settle(s.now())
	if s.takes == 0 && len(s.writing) == 0 {
		s.Memory.Record(events, cp)
		return
	}
	r := record{cp: cp}
	for i := range events {
		if events[i].Flood.ID != 0 {
			r.events = append(r.events, events[i])
		}
	}
	s.waiting = append(s.waiting, r)
	if len(s.writing) == 0 {
		s.begin(s.now())
	}
}

func (s *storage) begin(at time.Duration) {
	s.writing, s.waiting, s.done = s.waiting, nil, at+s.takes
}

// settle stores what has been written by a time.
func (s *storage) settle(by time.Duration) {
	for len(s.writing) > 0 && s.done <= by {
		for _, r := range s.writing {
			s.Memory.Record(r.events, r.cp)
		}
		s.begin(s.done)
	}
}

// Acknowledged returns the intentions stored since the last call.
func (s *storage) Acknowledged() []loop.Ack {
	s.settle(s.now())
	return s.Memory.Acknowledged()
}

// next is when the write under way is done; never without one.
func (s *storage) next() time.Duration {
	if len(s.writing) == 0 {
		return never
	}
	return s.done
}

// forget drops what is on its way, and reports whether that was anything.
func (s *storage) forget() bool {
	lost := slices.Concat(s.writing, s.waiting)
	s.writing, s.waiting = nil, nil
	return len(lost) > 0
}
