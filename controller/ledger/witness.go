package ledger

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/loop"
	"benchtide/safety"
)

// witness is what one of the two records of the guard's state says: the ledger,
// or the copy beside it. What fails its checksum is not in it.
type witness struct {
	what  string            // for people
	there bool              // the file is, or was until it was set aside
	head  *head             // nil where it is not whole
	parts map[string]string // whole by their own checksum
	hurt  []string          // parts that are not, by the name they have now
	fault error             // why it cannot be read, or not all of it
	begun bool              // it was made just now, with a record that begins
	old   bool              // it is from before checksums, and had no copy
	blank bool              // and nothing was recorded in it

	commissioned []Commissioning       // what commissioning found, in order
	latches      map[string]latchState // by bench; the ledger's alone: what its trips say
	spoilt       map[string]int        // rows that fail their checksum, by table; the ledger's alone
}

// latchState is what the trips of a bench come to: what latched it since the last
// reset.
type latchState struct {
	latched []safety.Trip
	weld    bool
}

// held is what the head says of a bench's latches, so that an older part of it
// is not taken for the present one.
type held struct {
	Resets  int  `json:"resets"`
	Latched bool `json:"latched"`
}

func heldOf(s *safety.BenchState) held { return held{s.Resets, len(s.Latched) > 0} }

// take puts a part into the witness, whole or not.
func (w *witness) take(part, data string, sum int64) {
	if partSum(part, data) != sum {
		w.hurt = append(w.hurt, part)
		return
	}
	switch part {
	case headPart:
		var h head
		if err := json.Unmarshal([]byte(data), &h); err != nil {
			w.hurt = append(w.hurt, part)
			return
		}
		w.head = &h
	case commissioningPart:
		if err := json.Unmarshal([]byte(data), &w.commissioned); err != nil {
			w.hurt = append(w.hurt, part)
			return
		}
	}
	if w.parts == nil {
		w.parts = make(map[string]string)
	}
	w.parts[part] = data
}

// part is a part that the head vouches for: not only whole but of the same
// hand-over.
func (w *witness) part(name string) (string, bool) {
	data, whole := w.parts[name]
	if !whole || w.head == nil {
		return "", false
	}
	if w.head.Sums == nil { // from before checksums
		return data, true
	}
	sum, listed := w.head.Sums[name]
	return data, listed && sum == partSum(name, data)
}

// bench is the state of a bench that the head vouches for.
func (w *witness) bench(name string) (s benchState, whole bool) {
	data, whole := w.part(benchPart + name)
	return s, whole && json.Unmarshal([]byte(data), &s) == nil
}

// loose is the state of a bench that is whole by itself, whether or not the
// head is there to say that it is the newest.
func (w *witness) loose(name string) (s benchState, whole bool) {
	data, whole := w.parts[benchPart+name]
	return s, whole && json.Unmarshal([]byte(data), &s) == nil
}

// lists reports whether the head says that the bench has a state.
func (w *witness) lists(name string) bool {
	if w.head == nil {
		return false
	}
	if w.head.Sums == nil {
		return slices.Contains(w.head.Names, name)
	}
	_, listed := w.head.Sums[benchPart+name]
	return listed
}

// held is what the head says of the latches of a bench.
func (w *witness) held(name string) held {
	if w.head == nil {
		return held{}
	}
	return w.head.Held[name]
}

// names lists the benches of which anything is said.
func (w *witness) names() (all []string) {
	for part := range w.parts {
		if name, is := strings.CutPrefix(part, benchPart); is {
			all = append(all, name)
		}
	}
	if w.head != nil {
		all = append(all, w.head.Names...)
		for part := range w.head.Sums {
			if name, is := strings.CutPrefix(part, benchPart); is {
				all = append(all, name)
			}
		}
	}
	return append(all, slices.Collect(maps.Keys(w.latches))...)
}

// whole says what is wrong with the witness, in words; empty when nothing is.
func (w *witness) ailment() string {
	var bad []string
	switch {
	case !w.there:
		return w.what + " is missing"
	case errors.Is(w.fault, errNewer):
		return w.what + " cannot be used: " + w.fault.Error()
	case w.fault != nil:
		bad = append(bad, w.fault.Error())
	}
	for _, part := range slices.Sorted(slices.Values(w.hurt)) {
		bad = append(bad, fmt.Sprintf("the part %q fails its checksum", part))
	}
	if w.head == nil && !slices.Contains(w.hurt, headPart) && w.fault == nil {
		bad = append(bad, "its head is missing")
	}
	if w.head != nil {
		for _, part := range slices.Sorted(maps.Keys(w.head.Sums)) {
			if _, whole := w.part(part); !whole && !slices.Contains(w.hurt, part) {
				bad = append(bad, fmt.Sprintf("the part %q is missing or older than the rest", part))
			}
		}
	}
	for _, table := range slices.Sorted(maps.Keys(w.spoilt)) {
		rows := "1 row"
		if n := w.spoilt[table]; n > 1 {
			rows = fmt.Sprintf("%d rows", n)
		}
		bad = append(bad, fmt.Sprintf("%s of %s left out, since what stands there was not written so", rows, table))
	}
	if len(bad) == 0 {
		return ""
	}
	return w.what + " is damaged: " + strings.Join(bad, ", ")
}

// The copy is a text of one part a line.
const (
	witnessName = "witness.jsonl"
	copyText    = "the copy of the guard's state (" + witnessName + ")"

	commissioningPart = "commissioning" // in the copy alone; in the ledger it is a table
)

// line is one part in the copy.
type line struct {
	Part string          `json:"part"`
	Sum  int64           `json:"sum"` // of the name and the data as they are written
	Data json.RawMessage `json:"data"`
}

// inLines writes parts as the copy has them.
func inLines(parts map[string]string) ([]byte, error) {
	var b bytes.Buffer
	for _, part := range slices.Sorted(maps.Keys(parts)) {
		text, err := json.Marshal(part)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, `{"part":%s,"sum":%d,"data":%s}`+"\n", text, partSum(part, parts[part]), parts[part])
	}
	return b.Bytes(), nil
}

// readWitness reads the copy at path.
func readWitness(path string) *witness {
	w := &witness{what: copyText, there: true}
	data, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		w.there = false
	case err != nil:
		w.fault = err
	case len(data) == 0:
		w.fault = errors.New("it is empty")
	}
	for text := range bytes.Lines(data) {
		var l line
		switch err := json.Unmarshal(text, &l); {
		case err != nil || l.Data == nil:
			w.fault = cmp.Or(w.fault, errors.New("a line of it cannot be read"))
		case strings.HasSuffix(string(text), "\n"):
			w.take(l.Part, string(l.Data), l.Sum)
		default: // cut off, perhaps in the middle of a number
			w.fault = cmp.Or(w.fault, errors.New("its end is missing"))
		}
	}
	return w
}

// essence is what the copy holds of a checkpoint: all of the guard's, and what
// people ordered. What changes with each flood alone is the ledger's.
func essence(c *checkpoint) *checkpoint {
	e := *c
	orders := make(map[string]controller.BenchState, len(c.Controller.Benches))
	for name, s := range c.Controller.Benches {
		orders[name] = ordersOf(s)
	}
	e.Checkpoint = &loop.Checkpoint{Guard: c.Guard, Controller: controller.State{
		Known: c.Controller.Known, Far: c.Controller.Far, NextID: c.Controller.NextID, Benches: orders, Crops: wordsOn(c),
	}}
	return &e
}

// ordersOf is what people ordered of a bench: floods left out, a pause.
func ordersOf(s controller.BenchState) controller.BenchState {
	return controller.BenchState{
		Skips: s.Skips, LeftOut: s.LeftOut,
		PauseUntil: s.PauseUntil, PauseLeft: s.PauseLeft, PauseBy: s.PauseBy, PauseMade: s.PauseMade,
		Sanitising: s.Sanitising, SanitisedBy: s.SanitisedBy, SanitisingAt: s.SanitisingAt, SanitisingNudge: s.SanitisingNudge,
		Baseline: s.Baseline,
	}
}

// wordsOn are what people said of batches: those that were closed, or entered a stage,
// by a word.
func wordsOn(c *checkpoint) map[string]controller.CropState {
	words := make(map[string]controller.CropState)
	for name, s := range c.Controller.Crops {
		if s.Closed != 0 || len(s.Passages) > 0 || len(s.Said) > 0 {
			words[name] = controller.CropState{Transplanted: s.Transplanted, Closed: s.Closed, Passages: s.Passages, Said: s.Said}
		}
	}
	return words
}

// grave is what of a checkpoint the copy must hold at once, as a text to
// compare. Run times and what is learnt of fills are not: they change with each
// flood, and a day's loss of them lifts a budget once.
func grave(c *checkpoint) string {
	g := c.Guard
	g.Mono, g.Wall, g.Trusted = 0, time.Time{}, false
	g.Benches = make(map[string]safety.BenchState, len(c.Guard.Benches))
	for name, s := range c.Guard.Benches {
		s.Runs, s.Running, s.Learnt = nil, false, [2]time.Duration{}
		g.Benches[name] = s
	}
	orders := make(map[string]controller.BenchState)
	for name, s := range c.Controller.Benches {
		o := ordersOf(s)
		o.PauseLeft, o.PauseMade = 0, 0 // falls all the time; its end says the same
		o.SanitisingAt, o.SanitisingNudge = 0, 0
		o.Skips = slices.Clone(o.Skips)
		for i := range o.Skips {
			o.Skips[i].Asked, o.Skips[i].Due = 0, 0 // each boot counts them anew
		}
		orders[name] = o
	}
	words := wordsOn(c)
	for name, s := range words {
		s.Said = nil
		words[name] = s
	}
	text, _ := json.Marshal(struct {
		Guard  safety.State
		Orders map[string]controller.BenchState
		Words  map[string]controller.CropState
		Stamp  stamp
		Names  []string
	}{g, orders, words, stamp{Record: c.Record, Site: c.Site}, c.benches})
	return string(text)
}
