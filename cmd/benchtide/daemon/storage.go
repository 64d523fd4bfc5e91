package daemon

import (
	"fmt"
	"time"

	"benchtide/controller"
	"benchtide/controller/ledger"
	"benchtide/controller/loop"
)

// storageWatch is a sink that tells once when storage begins to fail, and once
// when it takes writes again.
type storageWatch struct {
	stats  func() ledger.Stats
	tell   func(controller.Message)
	failed bool // of the ledger
	stale  bool // the copy of the guard's state
	told   int  // of what was found amiss of the files
	next   time.Duration
}

// storageEvery is how often storage is asked how it fares.
const storageEvery = 10 * time.Second

// Turn asks how storage fares.
func (w *storageWatch) Turn(t *loop.Turn) {
	if t.Now.Mono < w.next {
		return
	}
	w.next = t.Now.Mono + storageEvery
	stats := w.stats()
	w.lookAtFiles(&stats)
	trouble := stats.Trouble
	switch {
	case trouble != nil && !w.failed:
		w.tell(controller.Message{Urgency: controller.Urgent, Bench: -1, Cause: "storage",
			Text: fmt.Sprintf("The ledger takes no writes: %v. The bench goes on from memory. Look at the storage.", trouble)})
	case trouble == nil && w.failed:
		w.tell(controller.Message{Urgency: controller.Today, Bench: -1, Cause: "storage", Text: "The ledger takes writes again and has caught up.", Gone: true})
	}
	w.failed = trouble != nil
}

// lookAtFiles tells of the copy of the guard's state, and of files that vanished
// or were changed by somebody else.
func (w *storageWatch) lookAtFiles(s *ledger.Stats) {
	say := func(urgency controller.Urgency, gone bool, text string) {
		w.tell(controller.Message{Urgency: urgency, Bench: -1, Cause: "record", Text: text, Gone: gone})
	}
	switch {
	case s.Copy != nil && !w.stale:
		say(controller.Today, false, fmt.Sprintf("What the guard has to know is kept once, not twice: %v. Floods go on. Look at the storage.", s.Copy))
	case s.Copy == nil && w.stale:
		say(controller.Today, true, "What the guard has to know is kept twice again.")
	}
	w.stale = s.Copy != nil
	for _, text := range s.Found[min(w.told, len(s.Found)):] {
		say(controller.Urgent, false, text+" Look at who or what changes files in the state directory, and at the card or disk.")
	}
	w.told = len(s.Found)
}
