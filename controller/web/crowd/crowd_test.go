package crowd

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// street is where connections come from, in memory.
type street struct {
	net.Listener
	waiting chan net.Conn
}

func (s *street) Accept() (net.Conn, error) {
	c, ok := <-s.waiting
	if !ok {
		return nil, net.ErrClosed
	}
	return c, nil
}

func (s *street) Close() error {
	if s.waiting != nil {
		close(s.waiting)
	}
	return nil
}

// visitor is the far end of a connection, and where it says it is.
type visitor struct {
	net.Conn
	from net.Addr
}

func (v visitor) RemoteAddr() net.Addr { return v.from }

// door is a listener with the connections that a server would have.
type door struct {
	*Listener
	t     testing.TB
	came  int
	lines []*conn
}

var few = Limits{All: 12, Strangers: 6, FromOne: 4, Leaving: 2, Bytes: 1000, Each: 600}

func newDoor(t testing.TB) *door {
	return &door{Listener: Listen(&street{}, few), t: t}
}

// comes has somebody come from an address; nil when there was no place.
func (d *door) comes(from string) *conn {
	_, server := net.Pipe()
	d.came++
	c := d.admit(visitor{server, &net.TCPAddr{IP: net.ParseIP(from), Port: d.came}})
	if c != nil {
		d.lines = append(d.lines, c)
	}
	return c
}

// gone has the server be done with whatever was cut.
func (d *door) gone() {
	for _, c := range d.lines {
		if c.cut {
			_ = c.Close()
		}
	}
}

const (
	here   = "127.0.0.1"
	one    = "192.0.2.1"
	two    = "192.0.2.2"
	three  = "192.0.2.3"
	phone  = "2001:db8::1"
	phones = "2001:db8::2" // of the same network
)

func TestOneAddressTakesPlacesFromItselfAlone(t *testing.T) {
	d := newDoor(t)
	other := d.comes(two)
	first := d.comes(one)
	for range few.FromOne - 1 {
		d.comes(one)
	}
	assert.False(t, first.cut)
	assert.NotNil(t, d.comes(one), "the newcomer is served")
	assert.True(t, first.cut, "in the place of the oldest of that address")
	assert.False(t, other.cut)

	d = newDoor(t)
	a := d.comes(phone)
	for range few.FromOne {
		d.comes(phones)
	}
	assert.True(t, a.cut, "a machine has many addresses of IPv6")
}

func TestWhoeverHoldsMostPlacesLosesOneFirst(t *testing.T) {
	d := newDoor(t)
	lone := d.comes(two)
	greedy := d.comes(one)
	for range few.FromOne - 1 {
		d.comes(one)
	}
	d.comes(three)
	assert.False(t, greedy.cut)
	assert.NotNil(t, d.comes(three), "the strangers' places are full")
	assert.True(t, greedy.cut)
	assert.False(t, lone.cut, "though it is older")
}

func TestPlacesAreKeptForThisMachineAndForWhoIsLoggedIn(t *testing.T) {
	d := newDoor(t)
	for i := range 100 {
		d.comes(fmt.Sprintf("198.51.100.%d", i))
		d.gone()
	}
	all, strangers := d.Count()
	assert.Equal(t, few.Strangers, all)
	assert.Equal(t, few.Strangers, strangers)

	var known []*conn
	for range few.All - few.Strangers {
		c := d.comes(here)
		require.NotNil(t, c)
		d.letIn(c)
		known = append(known, c)
	}
	more := d.comes(here)
	require.NotNil(t, more, "a stranger leaves for it")
	d.letIn(more)
	for i := range 100 {
		d.comes(fmt.Sprintf("203.0.113.%d", i))
		d.gone()
	}
	for _, c := range append(known, more) {
		assert.False(t, c.cut, "no number of strangers cuts who is let in")
	}
}

func TestAFullHouseOfTheLoggedInLetsAnIdleOneGo(t *testing.T) {
	d := newDoor(t)
	for range few.All {
		d.letIn(d.comes(here))
	}
	assert.Nil(t, d.comes(here), "each is busy")
	d.answered(d.lines[3])
	last := d.comes(here)
	require.NotNil(t, last)
	assert.True(t, d.lines[3].cut)
	d.letIn(last)
	assert.Nil(t, d.comes(one))
}

func TestWhoHoldsMostBytesIsCutFirst(t *testing.T) {
	d := newDoor(t)
	known, small, big, new := d.comes(one), d.comes(one), d.comes(two), d.comes(three)
	assert.True(t, d.took(known, 590))
	d.letIn(known)
	assert.True(t, d.took(small, 100))
	assert.True(t, d.took(big, 590))
	assert.True(t, d.took(new, 350))
	assert.True(t, big.cut)
	assert.False(t, known.cut || small.cut || new.cut, "the longest request of all is of one who is let in")
	d.answered(small)
	assert.True(t, d.took(small, 590), "an answered request counts no more")
	assert.False(t, d.took(new, 300), "one request has its own bound")
	assert.True(t, new.cut)
	assert.False(t, d.took(new, 1), "and nothing more is read")
}

func TestTheServerIsDoneWithSomeBeforeMoreComeIn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDoor(t)
		for range few.FromOne + few.Leaving {
			d.comes(one)
		}
		in := false
		go func() { d.comes(two); in = true }()
		synctest.Wait()
		assert.False(t, in, "too many that were cut are still there")
		_ = d.lines[0].Close()
		synctest.Wait()
		assert.True(t, in)

		d.comes(one)
		go d.comes(two)
		synctest.Wait()
		assert.NoError(t, d.Close(), "the end waits for nobody")
		synctest.Wait() // who waited at the door has gone in, or away
		for _, c := range d.lines {
			_ = c.Close()
			_ = c.Close()
		}
		all, _ := d.Count()
		assert.Zero(t, all)
		assert.Zero(t, d.Listener.gone)
		assert.Equal(t, [2]int{}, d.bytes)
	})
}

// TestBoundsHoldWhateverComes has connections come, speak, be let in, be
// answered and go in any order.
func TestBoundsHoldWhateverComes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDoor(nil)
		any := func(t *rapid.T) *conn {
			if len(d.lines) == 0 {
				t.Skip("nobody is there")
			}
			return rapid.SampledFrom(d.lines).Draw(t, "who")
		}
		t.Repeat(map[string]func(*rapid.T){
			"come": func(t *rapid.T) {
				if d.Listener.gone >= few.Leaving {
					d.gone()
				}
				d.comes(rapid.SampledFrom([]string{here, one, two, three, phone, phones}).Draw(t, "from"))
			},
			"speak":  func(t *rapid.T) { d.took(any(t), rapid.IntRange(1, 500).Draw(t, "bytes")) },
			"let in": func(t *rapid.T) { d.letIn(any(t)) },
			"answer": func(t *rapid.T) { d.answered(any(t)) },
			"begin":  func(t *rapid.T) { any(t).idle = false },
			"close":  func(t *rapid.T) { _ = any(t).Close() },
			"": func(t *rapid.T) {
				all, strangers := d.Count()
				held, by, bytes := 0, map[netip.Prefix]int{}, [2]int{}
				for _, c := range d.lines {
					if !c.released {
						held++
					}
					if d.conns[c] {
						bytes[kind(c.known)] += c.bytes
						if c.stranger() {
							by[c.from]++
						}
						if c.bytes > few.Each {
							t.Fatalf("one holds %d bytes", c.bytes)
						}
					}
				}
				for from, n := range by {
					if n > few.FromOne {
						t.Fatalf("%v has %d connections", from, n)
					}
				}
				if all > few.All || strangers > few.Strangers || held > few.All+few.Leaving || d.bytes != bytes || bytes[0] > few.Bytes || bytes[1] > few.Bytes {
					t.Fatalf("%d connections, %d strangers, %d held, %v bytes counted of %v", all, strangers, held, d.bytes, bytes)
				}
			},
		})
	})
}

// TestAServerSaysWhenARequestIsAnswered has a real server use a listener.
func TestAServerSaysWhenARequestIsAnswered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		way := &street{waiting: make(chan net.Conn)}
		l := Listen(way, few)
		s := &http.Server{ConnContext: ConnContext, ConnState: ConnState, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/in" {
				LetIn(r.Context())
			}
		})}
		ended := make(chan error)
		go func() { ended <- s.Serve(l) }()
		visit := func() net.Conn {
			client, server := net.Pipe()
			way.waiting <- visitor{server, &net.TCPAddr{IP: net.ParseIP(one)}}
			return client
		}
		client := visit()
		get := func(path string) {
			_, err := io.WriteString(client, "GET "+path+" HTTP/1.1\r\nHost: x\r\n\r\n")
			require.NoError(t, err)
			_, err = client.Read(make([]byte, 4096))
			require.NoError(t, err)
			synctest.Wait()
		}
		for range 40 { // each 27 bytes: all together too many
			get("/")
		}
		_, strangers := l.Count()
		assert.Equal(t, 1, strangers)
		get("/in")
		_, strangers = l.Count()
		assert.Zero(t, strangers)
		get("/")
		_, strangers = l.Count()
		assert.Zero(t, strangers, "once is enough")

		other := visit()
		go func() { _, _ = io.WriteString(other, "GET / HTTP/1.1\r\nX: "+string(make([]byte, 2*few.Each))) }()
		_, err := io.ReadAll(other)
		assert.NoError(t, err, "it is cut")
		require.NoError(t, client.Close())
		require.NoError(t, s.Close())
		require.ErrorIs(t, <-ended, http.ErrServerClosed)
		synctest.Wait()
		all, _ := l.Count()
		assert.Zero(t, all)
	})
}
