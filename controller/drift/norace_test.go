//go:build !race

package drift_test

// short is the size of a trial; see the file for the race detector.
func short(many, _ int) int { return many }
