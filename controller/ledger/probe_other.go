//go:build !linux

package ledger

// roomIn knows nothing of storage here: the next write tells.
func roomIn(string) error { return nil }
