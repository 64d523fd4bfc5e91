//go:build race

package drift_test

// short is the smaller of two sizes of a trial: the race detector makes a
// rehearsal twenty times as long, and it has seen all of it after a few.
func short(_, few int) int { return few }
