package ledger

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
	"benchtide/schedule"
)

// durable reports whether an event must be on storage at once: whatever
// safety, an outcome or a person's order hangs on.
func durable(e *controller.Event) bool {
	switch e.Kind {
	case controller.FloodIntended, controller.PumpStarted, controller.PumpStopped, controller.FloodRetry, controller.FloodRefused, controller.FloodEnded,
		controller.PauseBegan, controller.PauseEnded, controller.SanitisingBegan, controller.SanitisingEnded,
		controller.StageBegan, controller.BatchClosed, controller.WaterBooked:
		return true
	case controller.GuardActed:
		return e.Guard.Kind != safety.SwitchChanged
	}
	return false
}

// Record takes the events of a turn and, when it is not nil, the checkpoint
// after them. It only puts them into memory and never waits for storage.
func (l *Ledger) Record(events []controller.Event, cp *loop.Checkpoint) {
	l.mu.Lock()
	defer l.mu.Unlock()
	urgent := false
	for i := range events {
		l.take(&events[i])
		urgent = urgent || durable(&events[i])
	}
	if cp != nil {
		urgent = l.mustHold(cp) || urgent
		l.stamp.Seq++
		l.next.checkpoint = &checkpoint{Checkpoint: cp, stamp: l.stamp, benches: l.names.benches}
	}
	l.stats.Dropped += int64(l.next.shed(l.options.MemoryRows))
	l.signal(urgent)
}

// mustHold reports whether cp has to be on storage at once: the guard's budgets
// or latches have changed, there is a flood that no earlier one knows, or a person
// has one left out.
func (l *Ledger) mustHold(cp *loop.Checkpoint) bool {
	old := l.newest
	l.newest = cp
	return old == nil || old.Controller.NextID != cp.Controller.NextID || !mayWait(&old.Guard, &cp.Guard) || !sameSkips(&old.Controller, &cp.Controller)
}

// sameSkips reports whether two states of the controller leave out the same
// floods. No row tells of a skip before its time, and whoever was told that a
// flood will not come is not to find the bench wet after a power cut.
func sameSkips(a, b *controller.State) bool {
	return maps.EqualFunc(a.Benches, b.Benches, func(x, y controller.BenchState) bool { return slices.Equal(x.Skips, y.Skips) })
}

// take puts one event into the next batch.
func (l *Ledger) take(e *controller.Event) {
	at := e.At.Wall
	if e.Flood.ID != 0 {
		l.next.addFlood(flood{Flood: e.Flood, bench: l.names.bench(e.Flood.Bench)})
	}
	switch e.Kind {
	case controller.FloodIntended:
		l.next.acks = append(l.next.acks, loop.Ack{Flood: e.Flood.ID, Attempt: e.Flood.Attempt})
	case controller.GuardActed:
		l.takeGuard(at, &e.Guard)
		return
	case controller.PauseBegan, controller.PauseEnded, controller.SanitisingBegan, controller.SanitisingEnded:
		began := e.Kind == controller.PauseBegan || e.Kind == controller.SanitisingBegan
		l.next.rows = append(l.next.rows, pauseRow(at, l.names.bench(e.Bench), began, e.Text))
		return
	case controller.StageBegan, controller.BatchClosed:
		l.next.rows = append(l.next.rows, stageRow(at, e.Batch, e.Stage, e.Text))
		return
	case controller.ReservoirWeighed:
		l.next.rows = append(l.next.rows, weighingRow(l.names.reservoir(e.Weighing.Reservoir), l.names.bench(e.Bench), &e.Weighing))
		return
	case controller.WaterBooked:
		l.next.rows = append(l.next.rows, bookingRow(l.names.reservoir(e.Booking.Reservoir), &e.Booking, e.Text))
		return
	case controller.OutputChanged:
		l.switched(e.Output, e.On, e.At)
	}
	l.hour(e.At)
	l.next.rows = append(l.next.rows, eventRow(at, e.Kind.Key(), l.placeOf(e), e.Flood.ID, textOf(e)))
}

func (l *Ledger) placeOf(e *controller.Event) string {
	if e.Kind == controller.OutputChanged {
		return l.names.output(e.Output)
	}
	return l.names.bench(e.Bench)
}

// textOf is what an event says beyond its kind and place.
func textOf(e *controller.Event) string {
	switch e.Kind {
	case controller.MessageSent:
		return string(e.Message.Urgency) + ": " + e.Message.Text
	case controller.FloodRefused:
		return controller.Because(string(e.Refusal.Interlock), e.Refusal.Detail)
	case controller.FloodEnded:
		return controller.Because(string(e.Flood.Outcome), e.Flood.Reason)
	case controller.OutputChanged:
		if e.On {
			return "on"
		}
		return "off"
	}
	return e.Text
}

// takeGuard puts what the guard did where it belongs.
func (l *Ledger) takeGuard(at time.Time, e *safety.Event) {
	place := l.names.bench(e.Bench)
	switch {
	case e.Kind == safety.Dropped:
		place = e.Left
	case e.Switch == "low" || e.Switch == "level":
		place = l.names.reservoir(e.Reservoir)
	}
	var r row
	switch e.Kind {
	case safety.SwitchChanged:
		r = eventRow(at, controller.GuardAct(e.Kind), place, 0, controller.Because(e.Switch+" "+e.Level.String(), e.Detail))
	case safety.RetryAllowed:
		r = eventRow(at, controller.GuardAct(e.Kind), place, 0, controller.Because(string(e.Interlock), e.Detail))
	case safety.ProofTested:
		r = proofRow(at, place, e.Switch, e.Level.String())
	default:
		r = tripRow(at, place, e, controller.GuardAct(e.Kind))
	}
	l.next.rows = append(l.next.rows, r)
}

// switched counts the run time of an output.
func (l *Ledger) switched(output int, on bool, now safety.Now) {
	name := l.names.output(output)
	if on {
		l.on[name] = now.Mono
		l.next.addRun(dayOutput{l.day(now.Wall), name}, run{starts: 1})
		return
	}
	if since, ok := l.on[name]; ok {
		l.addOn(name, now, now.Mono-since)
		delete(l.on, name)
	}
}

// countEvery is how much run time of an output that stays on may be lost with
// the program.
const countEvery = time.Hour

// hour counts the run time so far of outputs that stay on.
func (l *Ledger) hour(now safety.Now) {
	for name, since := range l.on {
		if d := now.Mono - since; d >= countEvery {
			l.addOn(name, now, d)
			l.on[name] = now.Mono
		}
	}
}

// addOn spreads the run time d that ends now over the local days it fell on.
func (l *Ledger) addOn(output string, now safety.Now, d time.Duration) {
	for end := now.Wall; d > 0; {
		date := schedule.CivilIn(end.Add(-time.Nanosecond), l.zone).Date()
		part := min(d, end.Sub(date.At(0).In(l.zone)))
		if part <= 0 {
			part = d
		}
		l.next.addRun(dayOutput{date.String(), output}, run{on: part})
		end, d = end.Add(-part), d-part
	}
}

func (l *Ledger) day(t time.Time) string { return schedule.CivilIn(t, l.zone).Date().String() }

// names are what the indices of a site mean.
type names struct{ benches, reservoirs, outputs []string }

func namesOf(limits safety.Limits) names {
	var n names
	for _, b := range limits.Benches {
		n.benches = append(n.benches, b.Name)
	}
	for _, r := range limits.Reservoirs {
		n.reservoirs = append(n.reservoirs, r.Name)
	}
	for _, o := range limits.Outputs {
		n.outputs = append(n.outputs, o.Name)
	}
	return n
}

func (n *names) bench(i int) string     { return nth(n.benches, i) }
func (n *names) reservoir(i int) string { return nth(n.reservoirs, i) }
func (n *names) output(i int) string    { return nth(n.outputs, i) }

// nth is empty for an index that means nothing, such as the site's -1.
func nth(names []string, i int) string {
	if i < 0 || i >= len(names) {
		return ""
	}
	return cmp.Or(names[i], "?")
}
