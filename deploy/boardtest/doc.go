// Package boardtest runs the shipped arm64 program on an emulated Raspberry Pi
// 3 with Debian's own kernel, and closes the loop from outside: the simulated
// bench lives on the host, follows the relay lines and drives the switch
// lines.
//
// # The machine
//
// A boot starts qemu-system-aarch64 with a kernel, and an initial file system
// that holds two static programs: the one under test and a small init, which
// stands in for the service manager and the time daemon (package console is
// what the host says to it). An SD card image can be attached; killing the
// emulator is then a power cut.
//
// # The record
//
// The emulator writes down every register write with its time, from power-on.
// The replay of it puts the writes to the GPIO block on a model of it ([Pins]):
// function, output level and pull of every line. A line drives its relay with
// its output level while it is an output, and with its pull while it is an
// input; so pulses, and what a line does after its program died, show as they
// would on a relay board. The emulator's own level register knows no pulls.
//
// # Time
//
// The emulated board's clock counts host time: one second there is one here
// (checked in each run). Both the host's writes to switch lines and the
// program's writes to relay lines pass through the same bus of the emulator
// and are stamped there, in microseconds. The latency of an interlock is the
// difference of two such stamps. Emulation is slower than the real processor
// and shares the host with others, so figures err on the long side.
//
// Everything that needs the emulator is behind the build tag boardtest; the
// script run beside this file fetches what it needs and runs the cases.
package boardtest
