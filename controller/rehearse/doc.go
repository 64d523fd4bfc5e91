// Package rehearse runs a site in virtual time: the same guard, controller and
// loop as on a real board, on a simulated bench. A Scenario says when it begins,
// how long it lasts, what the weather is, which faults come and what people do.
// Run drives turn after turn from one due moment to the next and returns a
// Report: every flood with its outcome, every interlock that acted, every
// message, and what became of the water.
//
// A rehearsal is one goroutine without a clock of its own: the same site and
// scenario give the same report, byte for byte. Its checker watches the
// project's invariants from outside, by the commands, the switches and the
// rows, and knows nothing of how the guard keeps them.
package rehearse
