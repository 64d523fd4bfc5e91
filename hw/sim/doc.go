// Package sim is the simulated site: tables, reservoirs, pots, pumps, relays
// and switches in virtual time. A World is a hw.Board and a hw.Clock in one, so
// the program that runs a real bench runs a simulated one unchanged.
//
// Its numbers are its own. Only reports and tests may ask for the Truth; an
// estimate that reads it is a defect.
//
// A bench is the one of its Config, or what the seed makes of it in a nature
// (package nature): its pump is not quite that of its label, its floats stick now and
// then, its plants drink more.
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
// What each fault does, and where, stands in Described; benchtide explain faults
// prints it.
//
// A switch is "bench.full", "bench.high", "bench.empty", "bench.leak",
// "reservoir.low", "reservoir.level" or "hands_in". Water from a reservoir's leak or overflow wets
// the leak switches of the benches above it.
//
// The same Config, seed and calls give the same world to the last bit on one
// architecture; between architectures fused multiply-add may change last digits.
package sim
