package ledger

import (
	"cmp"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// merger makes one checkpoint of what two witnesses say. It fails closed: a
// latch that either knows stands, unless the other has counted a later reset of
// that bench; a bench that was there and of which neither holds a whole state
// is lost, and starts latched.
type merger struct {
	ledger, copy *witness
	base, other  *witness // the newer of the two that has a whole head, and the other one
	strangers    bool     // they are of two records, so that their counts cannot be compared
	cp           *checkpoint
}

// merge returns nil where nothing was ever recorded. Benches are those of the
// file.
func merge(ledger, copied *witness, benches []string) *checkpoint {
	m := &merger{ledger: ledger, copy: copied, base: ledger, other: copied}
	if b, o := ledger.head, copied.head; b == nil || o != nil && o.Seq > b.Seq {
		m.base, m.other = copied, ledger
	}
	if b, o := m.base.head, m.other.head; b != nil && o != nil && b.Record != "" && o.Record != "" {
		m.strangers = b.Record != o.Record
	}
	m.cp = m.frame(benches)
	names := append(append(slices.Clone(benches), ledger.names()...), copied.names()...)
	slices.Sort(names)
	for _, name := range slices.Compact(names) {
		m.bench(name)
	}
	m.words()
	return m.cp
}

// frame is the checkpoint but for its benches.
func (m *merger) frame(benches []string) *checkpoint {
	cp := &checkpoint{Checkpoint: &loop.Checkpoint{}, benches: benches}
	if h := m.base.head; h != nil {
		cp.Guard, cp.Controller, cp.stamp, cp.benches = h.Guard, h.Controller, h.stamp, h.Names
	}
	if h := m.ledger.head; h != nil { // it alone follows the floods
		cp.Controller, cp.benches = h.Controller, h.Names
	}
	if h := m.copy.head; h != nil {
		cp.Controller.NextID = max(cp.Controller.NextID, h.Controller.NextID)
	}
	cp.Controller.Benches, cp.Controller.Crops = make(map[string]controller.BenchState), make(map[string]controller.CropState)
	cp.Guard.Benches = make(map[string]safety.BenchState)
	cp.Guard.Lost = maps.Clone(cp.Guard.Lost)
	for part := range m.ledger.parts {
		if name, is := strings.CutPrefix(part, cropPart); is {
			var s controller.CropState
			if data, whole := m.ledger.part(part); whole && json.Unmarshal([]byte(data), &s) == nil {
				cp.Controller.Crops[name] = s
			}
		}
	}
	return cp
}

// bench puts one bench into the checkpoint, unless it is new.
func (m *merger) bench(name string) {
	state, known, why := m.newest(name)
	if why == "" && !known {
		return
	}
	s := state.Guard
	for _, w := range []*witness{m.base, m.other} {
		if l, whole := w.loose(name); whole && (m.strangers || l.Guard.Resets >= s.Resets) {
			s.Latched, s.Weld = union(s.Latched, l.Guard.Latched), s.Weld || l.Guard.Weld
			s.Resets = max(s.Resets, l.Guard.Resets)
		}
	}
	if _, whole := m.ledger.bench(name); !whole {
		t := m.ledger.latches[name]
		s.Latched, s.Weld = union(s.Latched, t.latched), s.Weld || t.weld
	}
	m.cp.Guard.Benches[name] = s
	m.cp.Controller.Benches[name] = m.controller(name)
	if why != "" {
		if m.cp.Guard.Lost == nil {
			m.cp.Guard.Lost = make(map[string]string)
		}
		m.cp.Guard.Lost[name] = why
	}
}

// newest is the state of a bench as the newer witness vouches for it; why says
// how a state that there must be is lost.
func (m *merger) newest(name string) (state benchState, known bool, why string) {
	if m.base.head == nil {
		return state, false, "neither the ledger nor its copy holds a whole record"
	}
	if s, whole := m.base.bench(name); whole {
		return s, true, ""
	}
	s, whole := m.other.bench(name)
	switch {
	case !m.base.lists(name) && (!whole || !m.strangers):
		return state, false, "" // new, or dropped since the older one
	case whole && (m.base.held(name) == heldOf(&s.Guard) || m.base.head.Sums == nil):
		return s, true, ""
	}
	return state, false, "neither the ledger nor its copy holds a whole state of this bench"
}

// controller is what is kept of a bench beside the guard's: the ledger follows
// the floods, and of orders the newer witness knows.
func (m *merger) controller(name string) controller.BenchState {
	s, whole := m.ledger.bench(name)
	if o, known := m.copy.bench(name); known && (!whole || m.base == m.copy) {
		orders := ordersOf(o.Controller)
		k := &s.Controller
		k.PauseUntil, k.PauseLeft, k.PauseBy = orders.PauseUntil, orders.PauseLeft, orders.PauseBy
		k.Sanitising, k.SanitisedBy, k.Baseline = orders.Sanitising, orders.SanitisedBy, orders.Baseline
		k.PauseMade, k.SanitisingAt, k.SanitisingNudge = m.reading(orders.PauseMade), m.reading(orders.SanitisingAt), m.reading(orders.SanitisingNudge)
		k.Skips, k.LeftOut = m.skips(k, &orders), orders.LeftOut
	}
	return s.Controller
}

// skips are the floods to leave out by the copy, and those that were left out since
// the ledger was written, which it would flood now.
func (m *merger) skips(k, orders *controller.BenchState) (skips []controller.Skip) {
	for _, s := range orders.Skips {
		s.Asked, s.Due = m.reading(s.Asked), m.reading(s.Due)
		skips = append(skips, s)
	}
	for _, slot := range orders.LeftOut {
		if k.HasSlot && slot > k.Cursor && !slices.ContainsFunc(skips, func(s controller.Skip) bool { return s.Slot == slot }) {
			end := m.cp.Controller.Mono
			skips = append(skips, controller.Skip{Slot: slot, Named: slot, Asked: end, Due: end})
		}
	}
	return skips
}

// words puts what people said of batches by the copy into the checkpoint, where the
// ledger has lost it or is the older one.
func (m *merger) words() {
	for part := range m.copy.parts {
		name, is := strings.CutPrefix(part, cropPart)
		data, whole := m.copy.part(part)
		var o controller.CropState
		if !is || !whole || json.Unmarshal([]byte(data), &o) != nil {
			continue
		}
		s, known := m.cp.Controller.Crops[name]
		if known && m.base == m.ledger {
			continue
		}
		if !known {
			s = controller.CropState{Since: m.cp.Controller.Mono, NoFlood: true}
		}
		s.Transplanted, s.Closed, s.Passages, s.Said = o.Transplanted, o.Closed, o.Passages, nil
		for _, word := range o.Said {
			word.At = m.reading(word.At)
			s.Said = append(s.Said, word)
		}
		m.cp.Controller.Crops[name] = s
	}
}

// reading is a reading of the copy's boot-time clock as one of the clock of the
// checkpoint, as long before its end as it was before the copy was written; 0
// stays what it is, no moment.
func (m *merger) reading(at time.Duration) time.Duration {
	from, to := &m.copy.head.Guard, &m.cp.Controller
	if at == 0 || from.Boot != "" && from.Boot == to.Boot {
		return at
	}
	return cmp.Or(at-from.Mono+to.Mono, -1)
}

// union adds to trips those of more whose interlock is not among them.
func union(trips, more []safety.Trip) []safety.Trip {
	trips = slices.Clone(trips)
	for _, t := range more {
		if !slices.ContainsFunc(trips, func(k safety.Trip) bool { return k.Interlock == t.Interlock }) {
			trips = append(trips, t)
		}
	}
	return trips
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
