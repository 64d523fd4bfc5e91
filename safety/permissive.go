package safety

import "time"

// permissives are asked in this order before a run may start; the first that
// says no is the reason.
var permissives = [...]func(*Guard, *bench) Refusal{
	notLatched, notJudging, noHandsIn, noHigh, noLeak, switchesRead, tableEmpty, notStorming,
	rested, fewStarts, dayLeft, enoughWater, notCold,
}

// permissive says why a run of bench i may not start now.
func (g *Guard) permissive(i int) Refusal {
	for _, ask := range permissives {
		if r := ask(g, &g.benches[i]); r.Refused() {
			return r
		}
	}
	return Refusal{}
}

func notLatched(g *Guard, b *bench) Refusal {
	if len(b.latched) > 0 {
		return Refusal{Interlock: b.latched[0].Interlock, Latched: true, Detail: b.latched[0].Detail}
	}
	if w := g.relay(b.enable).welded; w != nil {
		return Refusal{Interlock: DrainWindow, Latched: true, Detail: w.text.weld}
	}
	return Refusal{}
}

func notJudging(g *Guard, b *bench) Refusal {
	if s := g.relay(b.enable).judging; s != nil {
		return Refusal{Interlock: DrainWindow, Detail: s.text.judging, Until: s.judgedBy()}
	}
	return Refusal{}
}

func noHandsIn(g *Guard, _ *bench) Refusal {
	if g.handsIn {
		return Refusal{Interlock: HandsIn, Detail: handsInDetail}
	}
	return Refusal{}
}

func noHigh(g *Guard, b *bench) Refusal {
	wet := g.relay(b.enable).high
	if wet == nil && b.high.anyWet() {
		wet = b
	}
	if wet != nil {
		return Refusal{Interlock: HighLevel, Detail: wet.text.high}
	}
	return Refusal{}
}

func noLeak(_ *Guard, b *bench) Refusal {
	if b.leak.anyWet() {
		return Refusal{Interlock: LeakFound, Detail: b.text.leak}
	}
	return Refusal{}
}

func switchesRead(g *Guard, b *bench) Refusal {
	if _, bad := b.unread(unread); bad {
		return Refusal{Interlock: Stale, Detail: "a switch of the bench cannot be read; check its wire"}
	}
	if low := &g.tanks[b.Reservoir].low; unread(low) {
		return Refusal{Interlock: Stale, Detail: "the low switch of the reservoir cannot be read; check its wire"}
	}
	return Refusal{}
}

func unread(f *filter) bool { return f.fault || f.stale }

func tableEmpty(_ *Guard, b *bench) Refusal {
	switch {
	case b.full.anyWet():
		return Refusal{Interlock: NotEmpty, Detail: "FULL shows water"}
	case b.empty.anyWet():
		return Refusal{Interlock: NotEmpty, Detail: "EMPTY shows water"}
	case b.run.homing:
		return Refusal{Interlock: FillWindow, Detail: "the water of a failed fill is not known to be home", Until: b.homeBy()}
	}
	return Refusal{}
}

func notStorming(g *Guard, _ *bench) Refusal {
	if until, resting := g.storm.rest(g.now.Mono); resting {
		return Refusal{Interlock: RestartStorm, Detail: "the program started too often with a pump run in each", Until: until}
	}
	return Refusal{}
}

func rested(g *Guard, b *bench) Refusal {
	switch {
	case b.pump:
		return Refusal{Interlock: MinRest, Detail: "the pump is running"}
	case g.now.Mono < b.rest:
		return Refusal{Interlock: MinRest, Detail: "the pump rests until the table has drained", Until: b.rest}
	}
	return Refusal{}
}

func fewStarts(g *Guard, b *bench) Refusal {
	now := g.now.Mono
	if until, full := b.runs.full(now, StartsPerDay, day); full {
		return Refusal{Interlock: Starts, Detail: "40 starts within 24 hours", Until: until}
	}
	if until, full := b.runs.full(now, StartsPerHour, time.Hour); full {
		return Refusal{Interlock: Starts, Detail: "6 starts within an hour", Until: until}
	}
	return Refusal{}
}

func dayLeft(g *Guard, b *bench) Refusal {
	excess := b.runs.used(g.now.Mono) + b.plainRun() - b.dailyLimit()
	if excess > 0 {
		return Refusal{Interlock: DailyRun, Detail: "the pump time of 24 hours is spent", Until: b.runs.frees(g.now.Mono, excess)}
	}
	return Refusal{}
}

// enoughWater asks the reservoir. Water that stands on another table is still
// to come back, so nothing else may draw on it; a latched bench is given up.
func enoughWater(g *Guard, b *bench) Refusal {
	tank := &g.tanks[b.Reservoir]
	if tank.standing != nil {
		return Refusal{Interlock: ReservoirLow, Detail: tank.standing.text.standing}
	}
	if tank.lowDry() {
		return Refusal{Interlock: ReservoirLow, Detail: b.text.low}
	}
	if !tank.Low && tank.givenUp > 0 && tank.Usable-tank.givenUp < b.Flood+tank.Keep {
		return Refusal{Interlock: ReservoirLow, Detail: b.text.low}
	}
	return Refusal{}
}

func notCold(g *Guard, b *bench) Refusal {
	if g.tanks[b.Reservoir].cold {
		return Refusal{Interlock: Cold, Detail: "the solution is too cold to pump"}
	}
	return Refusal{}
}
