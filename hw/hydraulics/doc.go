// Package hydraulics is the water of a flood bench in formulae: what a pump
// lifts through its hose, how fast a table fills and drains, and how high water
// stands above the crest of a standpipe while the pump runs.
//
// Everything is in SI units, carried by types. Functions are pure. A value
// outside the range that a formula was made for is an error, never a guess;
// the text of each function gives the range, the unit and the published source.
// Constants marked "no source" are common practice or an assumption and are to
// be replaced by calibration.
//
// Flow through a full pipe is Darcy–Weisbach with the friction factor of
// Colebrook (Pipe). A Pump is a falling curve of head over
// flow; a Supply sets it against a pipe and a lift. A Standpipe is a circular
// weir that drowns into an orifice. A table empties through an Outlet: a
// standpipe, an orifice, a drop pipe, or the hose and the idle pump.
package hydraulics
