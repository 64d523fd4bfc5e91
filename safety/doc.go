// Package safety is the guard: the one owner of the outputs of a site. It
// keeps water off the floor and pumps from running dry, and knows nothing of
// schedules, plants or storage.
//
// A turn has two phases. Guard.Observe takes the raw readings, filters the
// switches, follows the water of each run from the pump's start until it is
// gone, and runs every interlock that does not depend on what anyone wants; a
// trip ends a run there and then. Its View tells the controller what stands,
// what ended a run and why a start would be refused. Guard.Allow then takes
// the controller's Want and returns the Command for the board: runs that the
// permissives let start, runs that have not reached a limit, stirring, and the
// enable relay that is in series with the pumps. No other code can make a
// Command that energises anything, one turn makes one Command, and the zero
// Command is everything off. Guard.Next says when the guard wants its next
// turn, Guard.TakeEvents what happened in this one.
//
// An interlock refuses a start (permissive.go), ends a run (a trip), or
// latches: then the bench stays off until a person calls Guard.Reset, for
// which no cause may stand. Under hands-in nothing starts; a person may then
// have one relay at a time click for a moment (Guard.Click), which Allow mints
// too.
//
// Durations and limits use Now.Mono, the boot-time clock, alone. A failed
// reading counts as the unsafe one of wet and dry; FULL and EMPTY hold their
// level during a run until the reading is too old.
//
// # Invariants
//
// The project keeps eleven. Those marked * are kept here and tested by name.
//
//  1. * No pump circuit (pump and enable both commanded closed) is energised
//     unless the guard allowed it in this turn; a read error counts as the
//     unsafe reading. (1, 3 and 4 speak of commands; a welded contact falls
//     under 9.) A click energises one relay of a circuit and never its
//     partner.
//  2. * Outputs are off before anything else at start, at stop, on panic, on
//     signal, on a lost board. (Here: a new guard and a stopped one allow
//     nothing.)
//  3. * No pump run outlasts its limit, whatever the wall clock does.
//  4. * After HIGH is made a pump is off within one control period. (Here: in
//     the same turn.)
//  5. * A latched trip survives restarts, power cuts, changes of the file and
//     damage to the record until a person resets it; where no witness of the
//     record knows, the bench is latched. (Here: as State says, which its two
//     witnesses keep, and for a bench under another name by its lines.)
//  6. * Never two floods at once on one reservoir, from start to ended.
//  7. Every slot gets exactly one outcome, in the ledger, with a reason.
//  8. In the simulation water is conserved to within 1e-6 of the volume moved.
//  9. With one independent passive or active layer healthy, no single failure
//     spills, or runs a pump dry, longer than its stated bound; each is
//     reported within its stated time. (Here: a welded pump relay is parted by
//     the enable relay.)
//  10. * Clock steps, daylight saving and restarts neither double nor silently
//     drop a flood. (Here: one run for each flood and attempt, and a rest
//     after every restart.)
//  11. An output that is not the processor's own is believed only as far as it
//     was read back: while a pump's output does not answer, its enable relay,
//     which is the processor's own, is open. (Here: Lost opens every enable
//     relay.)
package safety
