// Package watchdogtest runs the daemon on an emulated PC with a hardware
// watchdog, stops it in mid-fill as if its loop hung, and follows the machine
// through its reset.
//
// The machine's first program is that of boardtest, which does what the host
// asks over a serial line (package console). The bench is simulated inside the
// daemon; the ledger is on a disk that
// outlives the reset. The emulator tells of the watchdog and of the reset with
// its own time stamps.
//
// Another such machine has GPIO chips of many kinds, made for the test: the kernel's
// simulated ones with the labels, sizes and names of a Raspberry Pi 5, without names,
// with one label on two, and expanders on a bus. The benches there are a pump relay,
// an enable relay and two floats each, with water that the first program pours. Its
// clock counts instructions and skips idle time, so that what takes how long is the
// program's doing alone.
//
// Everything that needs the emulator is behind the build tag watchdogtest; the
// script run beside this file fetches what it needs and runs the test.
package watchdogtest
