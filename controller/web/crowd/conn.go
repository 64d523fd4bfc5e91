package crowd

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/netip"
)

// conn is a connection that a Listener counts.
type conn struct {
	net.Conn
	l    *Listener
	from netip.Prefix
	near bool // from this machine
	age  uint64

	// l.mu is over these
	known    bool // let in
	idle     bool // between two requests
	bytes    int  // of the request under way
	cut      bool
	released bool
}

var errTooMuch = errors.New("read: more than one request may have")

// stranger reports whether nothing is known of who is there but the address.
func (c *conn) stranger() bool { return !c.known && !c.near }

// heavier reports whether it holds more than another; of two with as much the
// older does.
func (c *conn) heavier(o *conn) bool {
	return c.bytes > o.bytes || c.bytes == o.bytes && c.age < o.age
}

func (c *conn) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	if n > 0 && !c.l.took(c, n) {
		return 0, errTooMuch
	}
	return n, err
}

// Close is the server's last word about a connection.
func (c *conn) Close() error {
	err := c.Conn.Close()
	c.l.release(c)
	return err
}

// CloseWrite lets a last answer arrive before the connection ends.
func (c *conn) CloseWrite() error {
	if half, ok := c.Conn.(interface{ CloseWrite() error }); ok {
		return half.CloseWrite()
	}
	return errors.ErrUnsupported
}

// of finds the counted connection below what a server has; nil when there is
// none.
func of(c net.Conn) *conn {
	for {
		switch below := c.(type) {
		case *conn:
			return below
		case interface{ NetConn() net.Conn }: // TLS
			c = below.NetConn()
		default:
			return nil
		}
	}
}

type key struct{}

// ConnContext is for http.Server: by it LetIn finds the connection of a request.
func ConnContext(ctx context.Context, c net.Conn) context.Context {
	return context.WithValue(ctx, key{}, of(c))
}

// ConnState is for http.Server: it says when a request begins and when it is
// answered.
func ConnState(c net.Conn, s http.ConnState) {
	counted := of(c)
	if counted == nil {
		return
	}
	switch s {
	case http.StateActive:
		counted.l.mu.Lock()
		counted.idle = false
		counted.l.mu.Unlock()
	case http.StateIdle:
		counted.l.answered(counted)
	}
}

// LetIn says that who sent a request is no stranger.
func LetIn(ctx context.Context) {
	if c, _ := ctx.Value(key{}).(*conn); c != nil {
		c.l.letIn(c)
	}
}

// origin is where a connection comes from: its address, of IPv6 the network,
// since one machine has many there. A socket is of this machine.
func origin(a net.Addr) (from netip.Prefix, near bool) {
	tcp, ok := a.(*net.TCPAddr)
	if !ok {
		return from, true
	}
	ip := tcp.AddrPort().Addr().Unmap()
	return Network(ip), ip.IsLoopback()
}

// Network is an address, of IPv6 the network of 64 bits.
func Network(ip netip.Addr) netip.Prefix {
	bits := 64
	if ip = ip.Unmap().WithZone(""); ip.Is4() {
		bits = 32
	}
	p, _ := ip.Prefix(bits) // of such an address none fails
	return p
}
