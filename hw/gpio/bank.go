package gpio

import (
	"errors"
	"slices"
	"strings"

	"benchtide/safety"
)

// bank is up to maxLines switches on one chip, read by one call.
type bank struct {
	host     host
	home     home // of its first line; the others are on the same chip
	lost     bool // the chip may have another number by now
	request  request
	switches []fitted
	fd       int
	fault    error // of the last reading

	watched bool // the chip is behind a bus: it is read beside the turns
	watcher *watcher
}

// banks sorts switches into as few banks as their chips allow.
func banks(h host, switches []fitted, at []berth) []*bank {
	var all []*bank
	for i, s := range switches {
		b := roomOn(all, at[i].chip)
		if b == nil {
			b = &bank{host: h, fd: unclaimed, home: at[i].home, watched: !at[i].home.own, request: request{chip: at[i].chip, label: at[i].home.label, consumer: "benchtide switches"}}
			all = append(all, b)
		}
		b.switches = append(b.switches, s)
		b.request.offsets = append(b.request.offsets, at[i].offset)
		b.request.pulls = append(b.request.pulls, s.Pull)
	}
	return all
}

func roomOn(all []*bank, chip string) *bank {
	i := slices.IndexFunc(all, func(b *bank) bool {
		return b.request.chip == chip && len(b.switches) < maxLines
	})
	if i < 0 {
		return nil
	}
	return all[i]
}

// String names the lines, for messages.
func (b *bank) String() string {
	names := make([]string, len(b.switches))
	for i, s := range b.switches {
		names[i] = s.Line.String()
	}
	return strings.Join(names, ", ")
}

func (b *bank) lineIDs() []lineID {
	at := make([]lineID, len(b.request.offsets))
	for i, offset := range b.request.offsets {
		at[i] = lineID{b.request.chip, offset}
	}
	return at
}

func (b *bank) claim() error {
	if b.fd != unclaimed {
		return nil
	}
	if err := b.find(); err != nil {
		return err
	}
	fd, err := b.host.kernel.Request(b.request)
	if err != nil {
		b.lost = true
		return err
	}
	b.fd = fd
	return nil
}

// find looks the chip up again after something failed: one that went and came
// back may have another number.
func (b *bank) find() error {
	if !b.lost {
		return nil
	}
	at, err := b.host.again(b.home)
	if err != nil {
		return err
	}
	b.request.chip, b.lost = at.chip, false
	return nil
}

func (b *bank) release() error {
	if b.fd == unclaimed {
		return nil
	}
	fd := b.fd
	b.fd = unclaimed
	return b.host.kernel.Close(fd)
}

// levels reads the lines. A bank that fails is released, and requested anew
// at its next reading.
func (b *bank) levels() (uint64, error) {
	if err := b.claim(); err != nil {
		return 0, err
	}
	bits, err := b.host.kernel.Get(b.fd, len(b.switches))
	if err != nil {
		b.lost = true
		return 0, errors.Join(err, b.release())
	}
	return bits, nil
}

// start claims the lines and, behind a bus, reads them beside the turns from
// then on.
func (b *bank) start() error {
	if !b.watched {
		return b.claim()
	}
	b.watcher = watch(b)
	return b.watcher.first()
}

// end lets go of the lines, behind a bus as soon as that lets go of them.
func (b *bank) end() error {
	if b.watcher != nil {
		return b.watcher.end()
	}
	return b.release()
}

// hand hands the bank's switches to r. One that could not be read keeps the
// time of its last good reading.
func (b *bank) hand(now safety.Now, r *safety.Readings) {
	at := now.Mono
	var bits uint64
	var err error
	if b.watcher != nil {
		bits, at, err = b.watcher.look(now.Mono)
	} else {
		bits, err = b.levels()
	}
	b.fault = err
	for i, s := range b.switches {
		reading := s.reading(r)
		if err != nil {
			reading.Level = safety.Fault
			continue
		}
		*reading = safety.Reading{Level: s.level(bits&(1<<i) != 0), At: at}
	}
}
