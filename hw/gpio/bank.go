package gpio

import (
	"errors"
	"slices"
	"strings"

	"benchtide/safety"
)

// bank is up to maxLines switches on one chip, read by one call.
type bank struct {
	kernel   kernel
	request  request
	switches []fitted
	fd       int
	fault    error // of the last reading
}

// banks sorts switches into as few banks as their chips allow.
func banks(k kernel, switches []fitted, at []place) []*bank {
	var all []*bank
	for i, s := range switches {
		b := roomOn(all, at[i].chip)
		if b == nil {
			b = &bank{kernel: k, fd: unclaimed, request: request{chip: at[i].chip, consumer: "benchtide switches"}}
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
		names[i] = s.Line
	}
	return strings.Join(names, ", ")
}

func (b *bank) places() []place {
	at := make([]place, len(b.request.offsets))
	for i, offset := range b.request.offsets {
		at[i] = place{b.request.chip, offset}
	}
	return at
}

func (b *bank) claim() error {
	if b.fd != unclaimed {
		return nil
	}
	fd, err := b.kernel.Request(b.request)
	if err != nil {
		return err
	}
	b.fd = fd
	return nil
}

func (b *bank) release() error {
	if b.fd == unclaimed {
		return nil
	}
	fd := b.fd
	b.fd = unclaimed
	return b.kernel.Close(fd)
}

// levels reads the lines. A bank that fails is released, and requested anew
// at its next reading.
func (b *bank) levels() (uint64, error) {
	if err := b.claim(); err != nil {
		return 0, err
	}
	bits, err := b.kernel.Get(b.fd, len(b.switches))
	if err != nil {
		return 0, errors.Join(err, b.release())
	}
	return bits, nil
}

// read hands the bank's switches to r. One that could not be read keeps the
// time of its last good reading.
func (b *bank) read(now safety.Now, r *safety.Readings) {
	bits, err := b.levels()
	b.fault = err
	for i, s := range b.switches {
		reading := s.place(r)
		if err != nil {
			reading.Level = safety.Fault
			continue
		}
		*reading = safety.Reading{Level: s.level(bits&(1<<i) != 0), At: now.Mono}
	}
}
