package mqttbroker

import (
	"log/slog"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// A gate lets in so many connections, and gives each so long to say who it is. The
// engine knows neither bound: it counts those that have signed in, and waits for ever
// for the others.
type gate struct {
	net.Listener
	most int
	wait time.Duration
	log  *slog.Logger
	open atomic.Int64
	full atomic.Int64 // when it was last said that the gate is full, Unix seconds
}

// Accept waits for the next connection that may come in.
func (g *gate) Accept() (net.Conn, error) {
	for {
		c, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if g.open.Add(1) > int64(g.most) {
			g.open.Add(-1)
			c.Close()
			if now := time.Now().Unix(); now-g.full.Swap(now) >= 60 {
				g.log.Warn("the broker has as many connections as it takes; others are sent away", "most", g.most)
			}
			continue
		}
		// The engine moves the limit when it knows the client.
		_ = c.SetDeadline(time.Now().Add(g.wait))
		return &guest{Conn: c, gate: g}, nil
	}
}

// A guest is a connection that is counted.
type guest struct {
	net.Conn
	gate *gate
	once sync.Once
}

// Close ends the connection and makes room.
func (c *guest) Close() error {
	c.once.Do(func() { c.gate.open.Add(-1) })
	return c.Conn.Close()
}
