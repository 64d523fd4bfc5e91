// Package killtest kills the real program: at each of its writes to the ledger
// and in each state of the flood cycle, and looks at what the next start makes
// of it.
//
// # How
//
// The program is the one that is shipped, with nothing in it for this test. A
// tracer stops it by ptrace at each system call and counts those that change
// the ledger's files. At the one that was asked for it kills the program before
// the kernel carries the call out. The daemon runs on a simulated bench
// (benchtide demo --state), whose water and relays are kept beside the ledger
// and outlast the program as a real bench would.
//
// # Two deaths
//
// After a kill the files are as the kernel has them. After a power cut they are
// as the card has them: what was synced is there, and of all that was written
// since, each sector of 512 bytes is there or not by chance.
//
// # What is looked at
//
// The program is started again and lives until the next flood has ended. Then
// the rows of the ledger are held against what the relays did and what the
// program had promised: every slot has one row with one outcome, the pump
// started no more often than the rows say, never within its rest, and an entry
// that was accepted is there. Anything else counts as doubled or lost.
//
// # Storage that fails
//
// The same program has its state directory on a small file system in memory, which
// is full, read-only, damaged, locked by another program, of a newer version or
// gone, at the start or later. A flood goes wrong meanwhile: its alarm has to
// arrive, what ails the storage has to be told within a minute, and once it is well
// again the floods have to be on record. Only root may mount it.
//
// The tests need Linux on a 64-bit PC and the build tag killtest:
//
//	go test -tags killtest -v -timeout 1h ./deploy/killtest  every write, ten minutes
//	go test -tags killtest -v ./deploy/killtest -every 25    one in 25
package killtest
