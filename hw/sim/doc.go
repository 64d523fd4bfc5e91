// Package sim is the simulated site: tables, reservoirs, pots, pumps, relays
// and switches in virtual time. A World is a hw.Board and a hw.Clock in one, so
// the program that runs a real bench runs a simulated one unchanged.
//
// Its numbers are its own. Only reports and tests may ask for the Truth; an
// estimate that reads it is a defect.
//
// # Time
//
// Nothing happens but in Wait, Step and Advance. Wait goes to the earlier of its
// deadline and the next change of a switch's raw level, which is found inside a
// step to half a millisecond, so a program that turns once per Wait misses
// nothing and spends nothing on ticking. While water moves, steps are as long as
// an error of a hundredth of a millimetre in depth allows; while none moves,
// they are up to an hour.
//
// # Water
//
// Every flow is a link from one place to another, and a step moves along each
// link the same litres out of one and into the other. Totals keep what came and
// what left; World.Error is what does not add up. A pump lifts against the drawn
// down reservoir, the depth on its table and its hose; water returns over the
// crest as over a weir and then through an orifice, below it through the idle
// pump or an open drain, above the rim over the edge to the floor. Pots displace
// water, drink from a film of it towards container capacity, slowly when very
// dry, and plants use it by weather and age. Salt goes with the water, and stays
// when it evaporates.
//
// # Relays
//
// A pump runs when its contact, the contact of its enable and the mains are
// closed. A wet HIGH, or its broken wire, holds the coil of its enable open,
// whatever the program wants.
//
// # Faults
//
// A fault acts from At for For; without For until it is cleared, unless it is
// over at once. Size is 100 % where nothing is said; with Over it grows evenly
// from nothing, in hourly steps.
//
//	pump-dead            bench      the pump draws current and moves nothing; water runs back through it
//	pump-weak            bench      size of the flow at every lift is missing; the shut-off head stays
//	air-lock             bench      the pump is air-bound until it has rested 5 min; with For, again at each start.
//	                                A pump that has run dry is air-bound in the same way
//	relay-welded         output     the contact sticks at its next closing, until cleared
//	relay-open           output     the contact never closes
//	full-stuck-low       bench      FULL's float stays down
//	full-stuck-high      bench      FULL's float stays up
//	high-dead            bench      HIGH's float stays down, even when lifted by hand
//	low-stuck            reservoir  the low float stays up: always enough
//	wire-open            switch     reads as an open contact: wet where water opens it, dry where water closes it
//	wire-short           switch     reads as a closed contact
//	chatter              switch or bench (its FULL)  the float turns every 0.3–6 s
//	drain-blocked        bench      size of the way home is shut: drain, idle pump, standpipe; not the supply
//	standpipe-missing    bench      water leaves through the standpipe's hole in the floor
//	valve-stuck          bench      the valve of its drain stays size open, whatever its pump does
//	table-tilted         bench      the end with the floats stands 5 mm higher than the middle, lower when size is
//	                                negative; the other end as much the other way
//	table-leak           bench      a hole of 10 mm in the floor of the table, size of its area
//	hose-off             bench      size of the pump's flow, and of what would run back, goes to the floor
//	breaker-tripped      output, bench (its pump) or empty (every pump)  no mains
//	reservoir-leak       reservoir  20 L an hour, to the last drop
//	top-up-while-flooded reservoir  once: filled to Usable when next more than half a crest stands on one of its
//	                                tables, so that drain-back may overfill it
//	heat, cold           reservoir  the solution tends to 35 °C, to 0.5 °C; size of the way there from the room
//	thermometer-dead     reservoir  its thermometer shows nothing
//	thermometer-stuck    reservoir  its thermometer goes on showing what it showed when it stuck
//	power-cut            (machine)  relays and program fall; Start begins a new boot when power is back
//	brownout-loop        (machine)  2 s after each flood pump starts the power fails for 30 s
//	process-hang         (machine)  Wait returns only after For; outputs keep their level, see Config.DeadMan
//	process-crash        (machine)  the program is down until Start, and crashes again during For; outputs are
//	                                released or kept, see Config.KeepOnCrash
//	clock-jump           (machine)  wall time steps by For, 1 h without; back when size is negative
//	switches-unread      (machine)  every reading is a fault and keeps the time of the last good one
//	outputs-deaf         (machine)  Apply is an error and changes nothing; outputs keep their level
//	storage-slow         (machine)  a write to storage takes size of 10 s, see Host
//	storage-full, storage-broken, network-down  (machine)  flags of Host
//
// A switch is "bench.full", "bench.high", "bench.empty", "bench.leak",
// "reservoir.low", "reservoir.level" or "hands_in". Water from a reservoir's leak or overflow wets
// the leak switches of the benches above it.
//
// The same Config, seed and calls give the same world to the last bit on one
// architecture; between architectures fused multiply-add may change last digits.
package sim
