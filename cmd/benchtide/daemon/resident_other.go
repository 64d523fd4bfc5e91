//go:build !linux

package daemon

import "runtime/debug"

// giveBack returns memory that only the start needed.
func giveBack() { debug.FreeOSMemory() }
