// Package live is the running site as others see it: the snapshot after the
// latest turn of its loop and what a person is needed for, the acts of people,
// what the ledger and the diary say, how the messages fare, what the plants will
// need, and who is at the benches. The API serves it, and the daemon puts it
// together.
//
// Its rule: no turn of the loop waits for anybody who looks. So the package has
// no lock that could be held over a call into another part or over storage.
// What it shows of the loop it reads off the snapshot that the loop publishes by
// pointer; what it works out, it works out for who asks, in their time, and
// publishes by pointer too; and what a turn has to tell it, that an outlook has
// to be worked out anew, is the count of an atomic. Where only one at a time may
// work, as at an outlook or at a copy of the ledger, the others wait in a line
// that each may leave, and in which no turn ever stands.
//
// Acts go through the loop's queue. Who asked sees what came of an act in the
// next snapshot, since an act returns after a turn that knew of it.
package live
