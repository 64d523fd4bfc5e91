//go:build !linux

package main

import "runtime/debug"

// giveBack returns memory that only the start needed.
func giveBack() { debug.FreeOSMemory() }
