package loop_test

import (
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// storage is a loop.Ledger that takes its time: what is recorded is stored, and
// an intention acknowledged, a lag later. What a death finds on its way is lost.
type storage struct {
	lag        time.Duration
	gone       bool // nothing is stored, nor acknowledged
	turn       int  // counted by whoever takes the turns
	now        func() safety.Now
	coming     []recorded
	floods     map[int64]controller.Flood
	checkpoint *loop.Checkpoint
	acks       []loop.Ack
}

// recorded is one turn's record on its way.
type recorded struct {
	turn       int
	at         time.Duration
	floods     []controller.Flood
	acks       []loop.Ack
	checkpoint *loop.Checkpoint
}

func newStorage(lag time.Duration) *storage {
	return &storage{lag: lag, floods: map[int64]controller.Flood{}}
}

func (s *storage) Record(events []controller.Event, cp *loop.Checkpoint) {
	r := recorded{turn: s.turn, at: s.now().Mono + s.lag, checkpoint: cp}
	for i := range events {
		f := events[i].Flood
		if f.ID == 0 {
			continue
		}
		r.floods = append(r.floods, f)
		if events[i].Kind == controller.FloodIntended {
			r.acks = append(r.acks, loop.Ack{Flood: f.ID, Attempt: f.Attempt})
		}
	}
	s.coming = append(s.coming, r)
}

func (s *storage) Acknowledged() []loop.Ack {
	for !s.gone && len(s.coming) > 0 && s.coming[0].at <= s.now().Mono {
		s.store()
	}
	acks := s.acks
	s.acks = nil
	return acks
}

// store stores the oldest that is on its way.
func (s *storage) store() {
	r := s.coming[0]
	s.coming = s.coming[1:]
	for _, f := range r.floods {
		s.floods[f.ID] = f
	}
	s.acks = append(s.acks, r.acks...)
	if r.checkpoint != nil {
		s.checkpoint = r.checkpoint
	}
}

// stores is when, on the boot-time clock, the next record will be stored.
func (s *storage) stores() time.Duration {
	if s.gone || len(s.coming) == 0 {
		return never
	}
	return s.coming[0].at
}

// settle stores all that is on its way.
func (s *storage) settle() {
	for len(s.coming) > 0 {
		s.store()
	}
}

func (s *storage) die() { s.coming, s.acks = nil, nil }

func (s *storage) knowsStart(flood int64) bool { return !s.floods[flood].Started.IsZero() }

// latched are the trips that storage knows of.
func (s *storage) latched(bench string) []safety.Trip {
	if s.checkpoint == nil {
		return nil
	}
	return s.checkpoint.Guard.Benches[bench].Latched
}
