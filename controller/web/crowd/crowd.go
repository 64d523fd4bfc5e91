// Package crowd bounds what connections may cost, whoever opens them and
// whatever they send: first how many there are, then how many bytes of requests
// that nobody has answered yet.
//
// A connection begins as a stranger's. It is let in when a request of it has
// shown a log-in, or came where none is asked for; until then one from another
// machine counts against the bound for strangers, and all of one address (of
// IPv6 one network) against the bound for that. What is above these bounds is
// kept for this machine and for who is logged in.
//
// Where a bound is reached a newcomer is served and another connection is cut:
// a stranger's before any other, of the address that has most, the oldest; of
// bytes the one that holds most. So whoever holds connections open takes places
// from himself, and a person who asks for something and gets it in a moment is
// not kept out. A connection that is cut keeps its place until the server is
// done with it: there are never more than All and Leaving together.
package crowd

import (
	"net"
	"net/netip"
	"sync"
)

// Limits bound the connections of one listener.
type Limits struct {
	All       int // connections
	Strangers int // of them not let in, and from other machines
	FromOne   int // of those from one address
	Leaving   int // cut, while the server is not done with them

	Bytes int // read for requests that are not answered yet, over all connections not let in, and as much over all others
	Each  int // of one connection
}

// Usual are the limits of an address and of a socket. A request with the longest
// headers and the longest body that are taken has less than Each; headers grow
// in memory to 23 times their length at worst (measured: names of three
// letters, no values), which Bytes allows for; a browser's have about 1 KiB.
var Usual = Limits{All: 384, Strangers: 128, FromOne: 64, Leaving: 16, Bytes: 256 << 10, Each: 64 << 10}

// Kernel buffers of one connection; the kernel takes twice as much for each.
const (
	receiveBuffer = 16 << 10
	sendBuffer    = 32 << 10
)

// Listener accepts within limits.
type Listener struct {
	net.Listener
	limits Limits

	mu     sync.Mutex // over all below, and what connections say of themselves
	room   sync.Cond  // a connection that was cut has gone
	conns  map[*conn]bool
	next   uint64 // age of the next connection
	gone   int    // cut, and not yet released
	bytes  [2]int // of those that were not cut: not let in, and let in
	closed bool
}

// Listen bounds what l accepts.
func Listen(l net.Listener, limits Limits) *Listener {
	b := &Listener{Listener: l, limits: limits, conns: map[*conn]bool{}}
	b.room.L = &b.mu
	return b
}

// Accept returns the next connection that there is room for.
func (l *Listener) Accept() (net.Conn, error) {
	for {
		raw, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		narrow(raw)
		if c := l.admit(raw); c != nil {
			return c, nil
		}
		drop(raw)
	}
}

// Close ends the accepting.
func (l *Listener) Close() error {
	l.mu.Lock()
	l.closed = true
	l.room.Broadcast()
	l.mu.Unlock()
	return l.Listener.Close()
}

// narrow bounds what the kernel keeps for a connection.
func narrow(raw net.Conn) {
	if tcp, ok := raw.(*net.TCPConn); ok {
		_ = tcp.SetReadBuffer(receiveBuffer) // the system's own, where it takes none
		_ = tcp.SetWriteBuffer(sendBuffer)
	}
}

// drop ends a connection with nothing left behind in the kernel.
func drop(raw net.Conn) {
	if tcp, ok := raw.(*net.TCPConn); ok {
		_ = tcp.SetLinger(0)
	}
	_ = raw.Close()
}

// admit makes room for a connection; nil when there is none.
func (l *Listener) admit(raw net.Conn) *conn {
	l.mu.Lock()
	defer l.mu.Unlock()
	from, near := origin(raw.RemoteAddr())
	for l.gone >= l.limits.Leaving && !l.closed {
		l.room.Wait()
	}
	if victim, full := l.full(from, near); full {
		if victim == nil {
			return nil
		}
		l.cut(victim)
	}
	c := &conn{Conn: raw, l: l, from: from, near: near, age: l.next}
	l.next++
	l.conns[c] = true
	return c
}

// full reports whether another connection from there needs the place of one,
// and whose.
func (l *Listener) full(from netip.Prefix, near bool) (victim *conn, full bool) {
	by, strangers := map[netip.Prefix]int{}, 0
	for c := range l.conns {
		if c.stranger() {
			by[c.from]++
			strangers++
		}
	}
	switch {
	case !near && by[from] >= l.limits.FromOne:
		return l.oldest(func(c *conn) bool { return c.stranger() && c.from == from }), true
	case !near && strangers >= l.limits.Strangers, len(l.conns) >= l.limits.All && strangers > 0:
		return l.oldest(func(c *conn) bool { return c.stranger() && by[c.from] == most(by) }), true
	case len(l.conns) < l.limits.All:
		return nil, false
	}
	if victim = l.oldest(func(c *conn) bool { return !c.known }); victim == nil {
		victim = l.oldest(func(c *conn) bool { return c.idle })
	}
	return victim, true
}

func most(by map[netip.Prefix]int) (n int) {
	for _, k := range by {
		n = max(n, k)
	}
	return n
}

// oldest is the oldest connection of a kind; nil when there is none.
func (l *Listener) oldest(of func(*conn) bool) (found *conn) {
	for c := range l.conns {
		if of(c) && (found == nil || c.age < found.age) {
			found = c
		}
	}
	return found
}

// heaviest is the connection that holds most bytes, of those that are let in or
// of those that are not.
func (l *Listener) heaviest(known bool) (found *conn) {
	for c := range l.conns {
		if c.known == known && (found == nil || c.heavier(found)) {
			found = c
		}
	}
	return found
}

// count adds to the bytes of a connection.
func (l *Listener) count(c *conn, n int) {
	c.bytes += n
	l.bytes[kind(c.known)] += n
}

func kind(known bool) int {
	if known {
		return 1
	}
	return 0
}

// cut ends a connection. Its place is free once the server has closed it, too.
func (l *Listener) cut(c *conn) {
	delete(l.conns, c)
	l.count(c, -c.bytes)
	l.gone++
	c.cut = true
	drop(c.Conn)
}

// took counts bytes that were read from a connection. It is false when these
// were too many for it.
func (l *Listener) took(c *conn, n int) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if c.cut || c.released {
		return false
	}
	l.count(c, n)
	if c.bytes > l.limits.Each {
		l.cut(c)
		return false
	}
	l.bound(c.known)
	return !c.cut
}

// bound cuts those who hold most until the bytes of all who are let in, or of all
// who are not, are within the limit.
func (l *Listener) bound(known bool) {
	for l.bytes[kind(known)] > l.limits.Bytes {
		l.cut(l.heaviest(known))
	}
}

// answered forgets what a connection's last request took.
func (l *Listener) answered(c *conn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !c.cut {
		l.count(c, -c.bytes)
	}
	c.idle = true
}

// release gives the place of a connection back.
func (l *Listener) release(c *conn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case c.released:
		return
	case c.cut:
		l.gone--
		l.room.Broadcast()
	default:
		delete(l.conns, c)
		l.count(c, -c.bytes)
	}
	c.released = true
}

// letIn says that a connection is no stranger's.
func (l *Listener) letIn(c *conn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if n := c.bytes; !c.known && !c.cut {
		l.count(c, -n)
		c.known = true
		l.count(c, n)
		l.bound(true)
	}
}

// Count says how many connections there are, and how many of them are
// strangers'.
func (l *Listener) Count() (all, strangers int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for c := range l.conns {
		if c.stranger() {
			strangers++
		}
	}
	return len(l.conns), strangers
}
