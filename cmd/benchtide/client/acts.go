package client

import (
	"benchtide/controller/solution"
)

// acts are the POSTs of the API, in the order of the help; but for the log-in, and for
// addition, which is a command of the diary.
var acts = []act{
	{
		verb: "flood", group: "day", path: "flood", fields: &floodFields{},
		help: "Flood a bench once.",
		more: `It starts within seconds: see first that no hand is in the table. Every interlock
stays in force, and a flood that the guard would not allow now is refused with the
reason (exit code 1).

Example:

    benchtide flood north --hold "4 min"`,
	},
	{
		verb: "stop", group: "day", path: "stop", fields: &benchFields{},
		help: "End the flood under way.",
		more: `Its pump goes off and the table drains; a flood that waits for its turn is
withdrawn. Before you reach in say "benchtide
hands-in on"; it isolates nothing, so unplug a pump before you touch it.

Example:

    benchtide stop north`,
	},
	{
		verb: "skip", group: "day", path: "skip-next", fields: &benchFields{},
		help: "Leave out the next planned flood.",
		more: `At its time it is written down as skipped; until then "benchtide undo-skip" takes
that back. The crop clock goes on. A second skip leaves out the flood after it; to
keep a bench dry for longer, pause it.

Example:

    benchtide skip north`,
	},
	{
		verb: "undo-skip", group: "day", path: "undo-skip", fields: &benchFields{},
		help: "Take back a skip whose flood is still to come.",
		more: `Of two skips it takes back the later one. The flood comes at its time: see that
nobody works in the bench then.

Example:

    benchtide undo-skip north`,
	},
	{
		verb: "pause", group: "day", path: "pause", fields: &pauseFields{},
		help: "Keep automatic floods off for a time.",
		more: `On one bench, or on all when none is named, for 14 days at most. Floods by hand may
start, and the crop clock goes on. Somebody who works in the bench wants hands-in.

Examples:

    benchtide pause --until "2026-03-08 15:00"
    benchtide pause north --until "12 h"`,
	},
	{
		verb: "resume", group: "day", path: "resume", fields: &benchFields{},
		help: "End a pause.",
		more: `Of one bench, or of all when none is named. Floods start again by themselves.

Example:

    benchtide resume north`,
	},
	{
		verb: "hands-in", group: "day", path: "hands-in", fields: &handsInFields{},
		help: "Keep everything off while a person works in the benches.",
		more: `Every pump goes off and nothing starts until it is ended; each hour it reminds you.
It isolates nothing: unplug a pump before you touch it or its wires.

Examples:

    benchtide hands-in on
    benchtide hands-in off`,
	},
	{
		verb: "reset", group: "day", path: "reset", fields: &resetFields{},
		help: "Release a latched trip.",
		more: `A trip that latched keeps its bench off until a person has looked. Find the cause
and put it right, pumps unplugged; while it stands a reset is refused. The next
flood is reported in detail: better watch it.

Example:

    benchtide reset north --found "leaf in the standpipe"`,
	},
	{
		verb: "drop", group: "day", path: "drop", fields: &dropFields{},
		help: "Forget a bench that left the file.",
		more: `A bench that is taken out of the file is not forgotten: put back, also under
another name, it is as locked as it was. Drop it when it is gone for good, or when
what locked it is put right.

Example:

    benchtide drop north --found "taken down"`,
	},
	{
		verb: "acknowledge", group: "told", path: "acknowledge", fields: &acknowledgeFields{},
		help: "Say that somebody knows of an alarm.",
		more: `It is not repeated any more. Nothing is reset by it.

Examples:

    benchtide acknowledge 12 --by Kim
    benchtide acknowledge all`,
	},
	{
		verb: "shelve", group: "told", path: "shelve", fields: &shelveFields{},
		help: "Keep an alarm silent for a time.",
		more: `For 24 h at most where it is urgent, else 7 days. Without --until it comes off the
shelf and is told again while it stands.

Examples:

    benchtide shelve 12 --until "2 h" --by Kim
    benchtide shelve 12`,
	},
	{
		verb: "service", group: "told", path: "service", fields: &serviceFields{},
		help: "Take an alarm out of service, or put it back.",
		more: `It is silent while somebody works on its cause, without an end of its own. Every
digest says what is out of service.

Examples:

    benchtide service out 12 --by Kim
    benchtide service in 12`,
	},
	{
		verb: "test-message", group: "told", path: "test-message", fields: &noFields{},
		help: "Send a message that wants an answer.",
		more: `It goes by every way of telling people, with a code. Whoever gets it answers on the
page or with "benchtide confirm", and the status says when each way last was.

Example:

    benchtide test-message`,
	},
	{
		verb: "confirm", group: "told", path: "confirm", fields: &confirmFields{},
		help: "Answer a test message.",
		more: `So the way by which it came is known to work.

Example:

    benchtide confirm 123456`,
	},
	{
		verb: "took-out", group: "plants", path: "took-out", fields: &tookOutFields{},
		help: "Say that you took out the water that a reservoir is told to lose.",
		more: `When the reservoir is told to lose water and you took it yourself. The litres are
booked in the diary, once, however often it is said, and the next floods are judged
anew. It resets nothing: a bench that is locked stays so until you reset it.

Example:

    benchtide took-out tank`,
	},
	{
		verb: "topped-up", group: "plants", path: "topped-up", fields: &toppedUpFields{},
		help: "Say whether you poured in the water that came and that nobody wrote down.",
		more: `Water that came between two weighings and that nobody wrote down is booked as a
top-up. Say no if nobody poured it in: it is not booked then, and what the reservoir
holds is not known until its next weighing.

Examples:

    benchtide topped-up no tank
    benchtide topped-up yes`,
	},
	{
		verb: "advance", group: "plants", path: "advance", fields: &advanceFields{},
		help: "Have a batch enter a stage of its plan.",
		more: `It does so today, ahead of its age or when the stage is due. An earlier stage may be named, too: it holds until the age brings the one after.

Examples:

    benchtide advance basil_spring
    benchtide advance basil_spring --to-day 24`,
	},
	{
		verb: "close", group: "plants", path: "close", fields: &closeFields{},
		help: "Close a batch: nothing floods for it any more.",
		more: `For a batch that has left its bench, or will on a day to come.

Examples:

    benchtide close basil_spring
    benchtide close basil_spring --last 2026-05-30
    benchtide close basil_spring --reopen`,
	},
	{
		verb: "empty", group: "plants", path: "empty", fields: &benchFields{},
		help: "Mark a table empty: close every batch on it.",
		more: `So nothing floods an empty table for weeks. "benchtide close --reopen" takes it back
for a batch.

Example:

    benchtide empty north`,
	},
	{
		verb: "sanitise", group: "plants", path: "sanitise", fields: &sanitiseFields{}, caution: solution.CautionBleach,
		help: "Keep planned floods off while sanitiser is in the water, until rinsed is confirmed.",
		more: `Every other bench on the same reservoir is kept dry, too. It has no end but
"benchtide rinsed", also across restarts. Floods by hand may start, to bring sanitiser and rinsing water through
the pump; they water no crop, and the crop clock goes on.

Example:

    benchtide sanitise north`,
	},
	{
		verb: "rinsed", group: "plants", path: "rinsed", fields: &sanitiseFields{},
		help: "Confirm that bench and reservoir are rinsed: the end of sanitising.",
		more: `Say it when pump and hose hold no sanitiser either. Floods start again by themselves. The next one is a new baseline of fill and fall
times, and is reported in detail: better watch it.

Example:

    benchtide rinsed north`,
	},
}

// addition writes something into the diary.
var addition = act{
	verb: "add", group: "verb", path: "diary", fields: &diaryFields{},
	help: "Write something down.",
	more: `What cannot be right is refused with its range; what is hard to believe is asked
about.

Examples:

    benchtide diary add --top-up "20 L" --place tank
    benchtide diary add --ec 1.6 --note "before the top-up"
    benchtide diary add --moisture 2 --place basil_spring
    benchtide diary add --lost 3 --place basil_spring
    benchtide diary add --baseline --place north --note "a wider hose"`,
}
