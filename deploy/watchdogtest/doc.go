// Package watchdogtest runs the daemon on an emulated PC with a hardware
// watchdog, stops it in mid-fill as if its loop hung, and follows the machine
// through its reset.
//
// The machine's first program is that of boardtest, which does what the host
// asks over a serial line (package console). The bench is simulated inside the
// daemon, since this machine has no GPIO lines; the ledger is on a disk that
// outlives the reset. The emulator tells of the watchdog and of the reset with
// its own time stamps.
//
// Everything that needs the emulator is behind the build tag watchdogtest; the
// script run beside this file fetches what it needs and runs the test.
package watchdogtest
