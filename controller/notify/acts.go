package notify

import (
	"crypto/rand"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"time"

	"benchtide/controller"
	"benchtide/controller/notify/alarm"
	"benchtide/controller/notify/outbox"
	"benchtide/safety"
)

// errNoChannel says that the file names no channel.
var errNoChannel = errors.New("no way out is set up: describe mail, webhook or mqtt under messages: in the site's file")

// Acknowledge notes that somebody knows of an alarm, or of all for the id 0.
func (d *Dispatcher) Acknowledge(id int64, by string) error {
	return d.act(func() error {
		if err := d.alarms.Acknowledge(id, by); err != nil {
			return err
		}
		for _, r := range d.rows {
			if r.Notice.Kind == alarm.Again && (id == 0 || r.Notice.Alarm.ID == id) {
				d.settle(r)
			}
		}
		d.sweep()
		return nil
	})
}

// Shelve keeps an alarm silent for a time; 0 takes it from the shelf.
func (d *Dispatcher) Shelve(id int64, t time.Duration, by string) error {
	return d.act(func() error { return d.alarms.Shelve(d.now(), id, t, by) })
}

// Service takes an alarm out of service, or puts it back.
func (d *Dispatcher) Service(id int64, out bool, by string) error {
	return d.act(func() error { return d.alarms.Service(id, out, by) })
}

// act carries out what a person asked, and what follows from it.
func (d *Dispatcher) act(f func() error) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := f(); err != nil {
		return err
	}
	d.alarmsChanged(vital)
	d.step(true)
	return nil
}

// Test sends a message that wants an answer by each channel, and returns how many
// there are.
func (d *Dispatcher) Test() (int, error) {
	if len(d.channels) == 0 {
		return 0, errNoChannel
	}
	return len(d.channels), d.act(func() error {
		now := d.now()
		for _, o := range d.o.Channels {
			w := d.channels[o.Name()]
			w.fares.Code, w.fares.Asked = newCode(), now.Wall
			d.put(now, w, d.alarms.Tested(now, w.fares.Code))
		}
		return nil
	})
}

// newCode is six digits that nobody can guess in time.
func newCode() string {
	n, _ := rand.Int(rand.Reader, big.NewInt(1_000_000)) // never fails
	return fmt.Sprintf("%06d", n)
}

// Confirm takes the answer to a test message and returns by which channel it came.
func (d *Dispatcher) Confirm(code string) (string, error) {
	code = strings.TrimSpace(code)
	confirmed := ""
	err := d.act(func() error {
		for _, o := range d.o.Channels {
			if w := d.channels[o.Name()]; w.fares.Code != "" && w.fares.Code == code {
				w.fares.Code, w.fares.Confirmed, confirmed = "", d.now().Wall, w.Name()
				return nil
			}
		}
		return fmt.Errorf("code %q: no test message that waits for an answer has it; give the code of the latest one", code)
	})
	return confirmed, err
}

// Status is how the messages fare.
type Status struct {
	Channels []ChannelStatus
	Alarms   []alarm.Alarm
	Urgent   int    // alarms that wait to be acknowledged
	Trouble  string // of storage
	Now      safety.Now
}

// Confirmed is when a person last answered a test message by any channel; zero
// when never.
func (s *Status) Confirmed() (latest time.Time) {
	for _, w := range s.Channels {
		if w.Confirmed.After(latest) {
			latest = w.Confirmed
		}
	}
	return latest
}

// Status is how the messages fare, from memory.
func (d *Dispatcher) Status() Status {
	st := d.status()
	if err := d.o.Store.Trouble(); err != nil {
		st.Trouble = err.Error()
	}
	return st
}

func (d *Dispatcher) status() Status {
	d.mu.Lock()
	defer d.mu.Unlock()
	st := Status{Alarms: d.alarms.Alarms(), Urgent: d.alarms.Unheard(controller.Urgent), Now: d.now()}
	waits, lost := map[string]int{}, d.lostBy()
	for _, r := range d.rows {
		waits[r.Channel]++
	}
	for _, o := range d.o.Channels {
		w := d.channels[o.Name()]
		st.Channels = append(st.Channels, ChannelStatus{
			Name: w.Name(), Waiting: waits[w.Name()], Delivered: w.delivered, Failed: w.failed, Undelivered: lost[w.Name()],
			LastSent: w.fares.Sent, Confirmed: w.fares.Confirmed, Trouble: w.trouble,
		})
	}
	return st
}

// lostBy counts the messages that nobody took, by channel.
func (d *Dispatcher) lostBy() map[string]int {
	n := map[string]int{}
	for i := range d.lost {
		n[d.lost[i].Channel]++
	}
	return n
}

// mostShown is how many of the messages that nobody took are listed.
const mostShown = 100

// Lost lists the messages that nobody took, the newest first.
func (d *Dispatcher) Lost() []outbox.Lost {
	d.mu.Lock()
	defer d.mu.Unlock()
	all := slices.Clone(d.lost)
	slices.Reverse(all)
	slices.SortStableFunc(all, func(a, b outbox.Lost) int { return b.At.Compare(a.At) })
	return all[:min(len(all), mostShown)]
}

// afterword tells the digest's reader how the messages themselves fare. The
// lock is held.
func (d *Dispatcher) afterword() string {
	var b strings.Builder
	b.WriteString("\nMessages\n")
	lost := d.lostBy()
	for _, o := range d.o.Channels {
		w := d.channels[o.Name()]
		said := "never confirmed: send a test with \"benchtide test-message\""
		if !w.fares.Confirmed.IsZero() {
			said = "last confirmed " + w.fares.Confirmed.In(d.o.Rules.Zone).Format("Mon 2 Jan 2006 15:04")
		}
		fmt.Fprintf(&b, "  %s: %s", w.Name(), said)
		if n := lost[w.Name()]; n > 0 {
			fmt.Fprintf(&b, "; %d never got out", n)
		}
		b.WriteString(".\n")
	}
	return b.String()
}
