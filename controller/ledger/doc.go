// Package ledger is the durable record of a site: every flood, its intention
// first, and all that a program must know again after a restart. It is one
// SQLite file, ledger.db in the state directory.
//
// The loop hands over what happened with Record, which only puts it into
// memory. A goroutine of the ledger's own writes it: at once when safety or an
// outcome hangs on it, else with the next such write or within a quarter of an
// hour, which spares a card half of its writes. One
// turn of the loop is written whole or not at all, and every write is synced
// before the intentions in it are acknowledged. When storage is full,
// read-only, slow or gone, what was recorded waits in memory and is written
// when that is possible again: floods are never given up, of details the
// oldest are, and both are counted.
//
// The journal is a write-ahead log. A commit appends the changed pages and
// syncs one file once, where a rollback journal writes each page twice and
// syncs three times; so a card wears less and an intention is acknowledged
// sooner. After a power cut the checksums of the log tell the last whole
// commit, and the main file is in danger only while the log is folded into it,
// about once a week and after each latch or order of a person, instead of at every
// step of a flood. Its price is an index of
// the log, which SQLite keeps in a third file for all programs to share. The
// kernel would bring that file to storage after each commit, at more than the
// cost of the log. So it is kept in memory, and while the program runs no other
// one can open its ledger: Backup makes a copy. The parts of the checkpoint,
// which each step of a flood changes, are deflated, so that those of a small
// site share a page or two.
//
// The messages that wait to be told, and what people said of the alarms, are
// tables of it as well, and have a copy beside it, messages.json, replaced whole
// at each change that matters: they outlast a ledger that had to be set aside.
// Earlier versions kept them in a file of their own, which is taken over.
//
// What the guard goes on from has two witnesses: the ledger, and a file of its
// own beside it (witness.jsonl), written anew whenever a latch, a count or an
// order of a person changes, and at the end. Each part of both carries a
// checksum, and the head of each says which parts belong together and how new
// they are. At a start the two are weighed (merge.go): one whole copy is enough,
// a latch in either stands unless the other has counted a later reset, and of a
// bench that was there and of which neither knows a whole state the guard is told
// that it is lost. Whatever differs from what was written is told to a person.
//
// Times in rows are those of the events. The order of rows is the order of
// recording, and old rows leave by their number, not by their date: a clock
// that jumps a hundred years forwards deletes nothing.
package ledger
