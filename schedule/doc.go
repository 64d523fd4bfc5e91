// Package schedule says when each bench is to be flooded.
//
// A plan is a list of stages by plant age; a stage names its floods by clock
// times, by a cron expression, or as a number spread over the light hours. A
// batch of plants follows one plan on one bench from its transplant on. Where
// several batches share a bench, the thirstiest sets the times, the most
// flood-sensitive the hold and the weakest feeder the strength; what that
// costs the others is reported as a Conflict.
//
// A slot is one planned flood: a bench and a civil time. Slots are computed in
// civil time without a zone, where every day has 24 hours, and only then
// mapped to instants, so that a change of daylight saving time can neither
// drop a slot nor double it.
//
// The package is pure: it reads no clock and no file. Only its caches change.
package schedule
