package door

import (
	"net"
	"net/netip"
	"sync"

	"underlamp/localca"
)

// Most connections that are open at once. A browser opens six of HTTP/1.1.
const (
	mostOfOne = 32
	mostInAll = 512
)

// A listener takes connections of the network at home, so many of one address.
type listener struct {
	net.Listener
	mu   sync.Mutex
	open map[netip.Addr]int
	all  int
}

// Listen bounds the connections of a listener. Those from the internet, and those beyond the
// bounds, are closed at once.
func Listen(l net.Listener) net.Listener {
	return &listener{Listener: l, open: map[netip.Addr]int{}}
}

// Accept waits for a connection that is taken.
func (l *listener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := addressOf(c.RemoteAddr())
		if !localca.AtHome(from) || !l.enter(from) {
			c.Close()
			continue
		}
		return &conn{Conn: c, leave: func() { l.leave(from) }}, nil
	}
}

func (l *listener) enter(from netip.Addr) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.all >= mostInAll || l.open[from] >= mostOfOne {
		return false
	}
	l.all++
	l.open[from]++
	return true
}

func (l *listener) leave(from netip.Addr) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all--
	if l.open[from]--; l.open[from] == 0 {
		delete(l.open, from)
	}
}

// A conn tells once that it is over.
type conn struct {
	net.Conn
	once  sync.Once
	leave func()
}

func (c *conn) Close() error {
	c.once.Do(c.leave)
	return c.Conn.Close()
}

// addressOf is the address of an end of a connection, without its port.
func addressOf(a net.Addr) netip.Addr {
	if a == nil {
		return netip.Addr{}
	}
	p, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap().WithZone("")
}
