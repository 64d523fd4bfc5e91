// Package controller is the flood cycle and the reservoir arbiter: it decides
// when a bench floods, carries each flood from its slot to its outcome, and
// keeps the crop clocks. It is pure: time and switches come in, wishes and
// events go out as data. It can wish for a pump but never switch one; the
// guard in package safety turns the wish into a Command.
//
// The way of a flood: a slot of the schedule comes due (or a person asks, or
// an outage left the crop too long without water) and a job joins the queue of
// its bench. The stirrer has been running since a little before. When the
// reservoir is free and the guard would let the pump start, the arbiter grants
// the job: its intention is recorded, the buzzer sounds, and on acknowledgement
// the pump is wished for. FULL begins the hold, the end of the hold stops the
// pump, and when the water is gone, or the bench is latched, the flood ends
// with exactly one outcome.
package controller
