// Package grow sets what plants need beside what is planned for them.
//
// A Site puts a calendar of floods and the water demand of its batches
// together. From it come a Forecast, the water in the pots of a batch over the
// days to come on mild, normal and hottest days; Advice, the stages that would
// keep those pots above their limit without flooding more than needed; and the
// light of a day. The diary part works out from what a person wrote down how
// fast a reservoir empties, how a solution drifts and ages, and what in an
// entry is hard to believe. The away part holds a site's record against the
// check that a grower makes before going away.
//
// All of it is advice: nothing here changes a schedule. The package is pure.
package grow
