package web

import (
	"maps"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"benchtide/controller/web/crowd"
)

// Bounds of log-ins that fail from one address. A page sends several requests at
// once with the same mistake.
const (
	failuresAtOnce = 20
	againEvery     = 30 * time.Second
	mostAddresses  = 1024
)

// failures bounds how often log-ins may fail, by the address they come from. A
// guesser with more addresses than it remembers shares one bound with everybody
// new; sessions and the commands' socket do not pass here.
type failures struct {
	now func() time.Time

	mu    sync.Mutex
	by    map[netip.Prefix]*rate.Limiter
	crowd *rate.Limiter
}

func newFailures(now func() time.Time) *failures {
	return &failures{now: now, by: map[netip.Prefix]*rate.Limiter{}, crowd: newBound()}
}

func newBound() *rate.Limiter { return rate.NewLimiter(rate.Every(againEvery), failuresAtOnce) }

// try takes a failure off what an address has left, before it is known to be
// one, so that guesses at the same time count too; forgive gives it back. It is
// not ok when none is left.
func (f *failures) try(remote string) (forgive func(), ok bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	now := f.now()
	taken := f.of(network(remote), now).ReserveN(now, 1)
	if taken.DelayFrom(now) > 0 {
		taken.CancelAt(now)
		return nil, false
	}
	return func() { taken.CancelAt(now) }, true
}

func (f *failures) of(from netip.Prefix, now time.Time) *rate.Limiter {
	if known := f.by[from]; known != nil {
		return known
	}
	if len(f.by) >= mostAddresses { // forget those that have not failed for long
		maps.DeleteFunc(f.by, func(_ netip.Prefix, l *rate.Limiter) bool { return l.TokensAt(now) >= failuresAtOnce })
	}
	if len(f.by) >= mostAddresses {
		return f.crowd
	}
	f.by[from] = newBound()
	return f.by[from]
}

// network is where a request comes from, as far as one machine is one there.
func network(remote string) netip.Prefix {
	at, err := netip.ParseAddrPort(remote)
	if err != nil {
		return netip.Prefix{}
	}
	return crowd.Network(at.Addr())
}
