// Package campaign looks for trouble that nobody thought of. It draws sites at
// random, lets random faults, people, weather, restarts and clock steps loose on
// them in virtual time, and judges what came of it.
//
// A year of a campaign is one site lived through month by month. Each month is a
// rehearsal of its own: mostly one fault or two at once, then an hour at which
// everything is mended and reset, then days in which the crop has to be watered
// again within its tolerance. The years follow from a seed and their number
// alone, so that one can be repeated by itself and any number of workers comes to
// the same report.
//
// A month fails when it breaks an invariant, when a single fault spills or runs a
// pump dry past the bound of its kind (kinds.go), when harm came of which nobody
// was told, or when the crop was not watered again. A failed month is made
// smaller as long as it still fails, and kept with its site as two files that
// the rehearsal reads.
package campaign
