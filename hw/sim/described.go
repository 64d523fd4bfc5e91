package sim

import "slices"

// Description tells of a fault what a scenario needs to know.
type Description struct{ Name, Where, Does string }

// Described lists every fault, in the order in which water, switches, machine and
// storage come.
func Described() []Description { return slices.Clone(described) }

var described = []Description{
	{"pump-dead", "bench", "the pump draws current and moves nothing; water runs back through it"},
	{"pump-weak", "bench", "size of the flow at every lift is missing; the shut-off head stays"},
	{"air-lock", "bench", "the pump is air-bound until it has rested 5 min; with for, again at each start. A pump that has run dry is air-bound in the same way"},
	{"relay-welded", "output", "the contact sticks at its next closing, until cleared"},
	{"relay-open", "output", "the contact never closes"},
	{"full-stuck-low", "bench", "FULL's float stays down"},
	{"full-stuck-high", "bench", "FULL's float stays up"},
	{"high-dead", "bench", "HIGH's float stays down, even when lifted by hand"},
	{"low-stuck", "reservoir", "the low float stays up: always enough"},
	{"wire-open", "switch", "reads as an open contact: wet where water opens it, dry where water closes it"},
	{"wire-short", "switch", "reads as a closed contact"},
	{"chatter", "switch or bench (its FULL)", "the float turns every 0.3–6 s"},
	{"drain-blocked", "bench", "size of the way home is shut: drain, idle pump, standpipe; not the supply"},
	{"standpipe-missing", "bench", "water leaves through the standpipe's hole in the floor"},
	{"valve-stuck", "bench", "the valve of its drain stays size open, whatever its pump does"},
	{"table-tilted", "bench", "the end with the floats stands 5 mm higher than the middle, lower when size is negative; the other end as much the other way"},
	{"table-leak", "bench", "a hole of 10 mm in the floor of the table, size of its area"},
	{"hose-off", "bench", "size of the pump's flow, and of what would run back, goes to the floor"},
	{"breaker-tripped", "output, bench (its pump) or empty (every pump)", "no mains"},
	{"reservoir-leak", "reservoir", "20 L an hour, to the last drop"},
	{"top-up-while-flooded", "reservoir", "once: filled to usable when next more than half a crest stands on one of its tables, so that drain-back may overfill it"},
	{"heat", "reservoir", "the solution tends to 35 °C; size of the way there from the room"},
	{"cold", "reservoir", "the solution tends to 0.5 °C; size of the way there from the room"},
	{"thermometer-dead", "reservoir", "its thermometer shows nothing"},
	{"thermometer-stuck", "reservoir", "its thermometer goes on showing what it showed when it stuck"},
	{"power-cut", "nothing", "relays and program fall; it boots anew when power is back"},
	{"brownout-loop", "nothing", "2 s after each flood pump starts the power fails for 30 s"},
	{"process-hang", "nothing", "the program stands still for so long; outputs keep their level"},
	{"process-crash", "nothing", "the program is down until it is started, and crashes again within for"},
	{"clock-jump", "nothing", "the clock steps by for, 1 h without; back when size is negative"},
	{"switches-unread", "nothing", "every reading is a fault and keeps the time of the last good one"},
	{"outputs-deaf", "nothing", "no output can be set; each keeps its level"},
	{"expander-gone", "output, but for enable relays", "the expander it hangs on does not answer: the output keeps its level, which a read-back tells at once"},
	{"storage-slow", "nothing", "a write to storage takes size of 10 s"},
	{"storage-full", "nothing", "nothing more can be written"},
	{"storage-broken", "nothing", "whatever is written fails"},
	{"network-down", "nothing", "no message leaves the house"},
}
