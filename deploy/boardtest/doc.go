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
// In most cases the board's clock counts host time, one second there for one
// here, so that the water outside keeps pace. Figures from them bear a slow or
// busy host.
//
// The case that measures counts instructions instead: a nanosecond each, idle
// time skipped. Whatever the host does, a figure is the same. A Cortex-A53 at
// 1.2 GHz, the processor of this board, carries out between half an instruction
// and one a cycle in code such as this (from memory), so about as many. All that
// runs shares one of its four processors. Both moments are read on the board's
// clock: a small program on it puts the line of the switch to its level, by the
// same register as the host, and the kernel notes when its driver moves a relay
// line. What instructions do not tell is how long memory and the SD card take;
// the programs are in memory.
//
// Everything that needs the emulator is behind the build tag boardtest; the
// script run beside this file fetches what it needs and runs the cases.
package boardtest
