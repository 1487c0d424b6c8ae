package mqttlink

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	mathrand "math/rand/v2"
	"net"
	"sync"
	"time"

	"underlamp/mqtt"
)

// A Will is what the broker publishes, retained, when the link dies.
type Will struct {
	Topic   string
	Payload []byte
	// For so long the broker waits whether the link comes back, by version 5. A broker
	// of 3.1.1 does not wait.
	Delay time.Duration
}

// Options of a link; zero values are the usual ones, but for Address.
type Options struct {
	Address        Address
	User, Password string // see [Credentials]
	CAFile         string // certificates of the broker's authority in PEM; empty: those of the system

	// Name of the session. It must stay the same for the broker to keep what is not
	// acknowledged, and no two links may share it. Empty: a new one, and nothing is kept.
	Client string

	Filters []string      // what to read: "rack/#"
	Receive mqtt.Receiver // of what is read; may be nil if there are no filters
	Will    *Will
	Up      func() // called after each connection; must not block

	Log       *slog.Logger  // nil logs nothing
	Retry     time.Duration // first wait before connecting again, doubled up to a minute; 0 means 1 s
	KeepAlive time.Duration // after which a silent line counts as dead, times 1.5; 0 means 30 s
}

// Bounds of a link.
const (
	underWay    = 128 // messages with the receiver at once
	maxRetry    = time.Minute
	patience    = 10 * time.Second      // for an answer of the broker
	grace       = 50 * time.Millisecond // for the acknowledgements before one that fails
	sessionTime = 24 * time.Hour        // for which the broker keeps a session, by version 5
)

// ErrDown says that there is no connection now.
var ErrDown = errors.New("there is no connection to the broker")

// A line is one connection, of either version.
type line interface {
	publish(ctx context.Context, topic string, payload []byte, retain bool) error
	subscribe(ctx context.Context, filters []string) error
	resumed() bool         // the broker had kept the session
	lost() <-chan struct{} // closed when the connection is over
	why() error            // after that
	hangUp()               // with a word of parting: no will
	version() string
}

// A Link is at work from [Open] to Close. Its methods may be called together.
type Link struct {
	opt  Options
	tls  *tls.Config
	stop context.CancelFunc
	over chan struct{}
	slot chan struct{} // one for each message with the receiver

	mu   sync.Mutex
	line line
}

var _ mqtt.Publisher = (*Link)(nil)

// Open begins to connect, and goes on until Close. A broker that is not there yet is no
// error.
func Open(opt Options) (*Link, error) {
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Retry == 0 {
		opt.Retry = time.Second
	}
	if opt.KeepAlive == 0 {
		opt.KeepAlive = 30 * time.Second
	}
	l := &Link{opt: opt, over: make(chan struct{}), slot: make(chan struct{}, underWay)}
	if l.opt.Client == "" {
		l.opt.Client = NewClient()
	} else if len(opt.Filters) == 0 {
		return nil, errors.New("a link that reads nothing needs no session: leave Client empty")
	}
	if opt.Address.TLS {
		var err error
		if l.tls, err = secure(opt.Address.Host, opt.CAFile); err != nil {
			return nil, err
		}
	}
	var ctx context.Context
	ctx, l.stop = context.WithCancel(context.Background())
	go l.run(ctx)
	return l, nil
}

// NewClient is a name for a session, of its own by chance, and of 23 characters at most
// as OASIS2014, section 3.1.3.1, asks of servers to take.
func NewClient() string {
	var b [7]byte
	rand.Read(b[:]) // never fails
	return "underlamp" + hex.EncodeToString(b[:])
}

// keeps says that the broker is to keep the session.
func (l *Link) keeps() bool { return len(l.opt.Filters) > 0 }

// run connects again and again.
func (l *Link) run(ctx context.Context) {
	defer close(l.over)
	wait := l.opt.Retry
	said := ""
	for {
		x, err := l.connect(ctx)
		if err == nil {
			wait, said = l.opt.Retry, ""
			l.opt.Log.Info("connected to the broker", "address", l.opt.Address.String(), "version", x.version())
			l.mu.Lock()
			l.line = x
			l.mu.Unlock()
			if l.opt.Up != nil {
				l.opt.Up()
			}
			select {
			case <-x.lost():
				err = x.why()
			case <-ctx.Done():
			}
			l.mu.Lock()
			l.line = nil
			l.mu.Unlock()
			x.hangUp()
		}
		if ctx.Err() != nil {
			return
		}
		if text := fmt.Sprint(err); text != said { // once for each reason
			l.opt.Log.Warn("no connection to the broker; it is tried again", "address", l.opt.Address.String(), "why", err)
			said = text
		}
		select {
		case <-time.After(wait/2 + mathrand.N(wait/2+1)):
		case <-ctx.Done():
			return
		}
		wait = min(2*wait, maxRetry)
	}
}

// A deniedError is a no of the broker that another version would not change.
type deniedError struct{ reason string }

func (e *deniedError) Error() string { return "the broker refuses us: " + e.reason }

// connect makes a connection by version 5, or else by 3.1.1.
func (l *Link) connect(ctx context.Context) (line, error) {
	var first error
	for _, by := range []func(context.Context, net.Conn) (line, error){l.five, l.four} {
		c, err := l.dial(ctx)
		if err != nil {
			return nil, err
		}
		x, err := by(ctx, c)
		if _, denied := errors.AsType[*deniedError](err); denied || ctx.Err() != nil {
			c.Close()
			return nil, err
		}
		if err != nil {
			c.Close()
			if first == nil {
				first = err
			}
			continue
		}
		if l.keeps() {
			err := x.subscribe(ctx, l.opt.Filters)
			switch {
			case err != nil && x.resumed():
				// Some brokers refuse the number of the packet while a message of theirs
				// with the same number is under way. The session reads what it read.
				l.opt.Log.Info("the broker goes on with what it was asked to send before", "why", err)
			case err != nil:
				x.hangUp()
				return nil, fmt.Errorf("the broker does not let us read: %w", err)
			}
		}
		return x, nil
	}
	return nil, first
}

func (l *Link) dial(ctx context.Context) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if l.tls != nil {
		return (&tls.Dialer{Config: l.tls}).DialContext(ctx, "tcp", l.opt.Address.Host)
	}
	return (&net.Dialer{}).DialContext(ctx, "tcp", l.opt.Address.Host)
}

// current is the line now.
func (l *Link) current() (line, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.line == nil {
		return nil, ErrDown
	}
	return l.line, nil
}

// Connected says that there is a connection now.
func (l *Link) Connected() bool {
	_, err := l.current()
	return err == nil
}

// Version is "5" or "3.1.1", or empty without a connection.
func (l *Link) Version() string {
	x, err := l.current()
	if err != nil {
		return ""
	}
	return x.version()
}

// Publish sends with QoS 1 and waits until the broker has it. Without a connection it
// fails at once with [ErrDown].
func (l *Link) Publish(ctx context.Context, topic string, payload []byte, retain bool) error {
	x, err := l.current()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	return x.publish(ctx, topic, payload, retain)
}

// Close parts from the broker in order: it publishes no will.
func (l *Link) Close() {
	l.stop()
	<-l.over
}

// take hands messages to the receiver, several at once, and has them acknowledged in the
// order in which they came, as both versions ask (OASIS2014, section 4.6). The returned
// function blocks while too many are under way. It is called from one goroutine.
func (l *Link) take(fail func(error)) func(m mqtt.Message, ack func()) {
	before := make(chan bool, 1)
	before <- true
	return func(m mqtt.Message, ack func()) {
		l.slot <- struct{}{}
		mine := make(chan bool, 1)
		go func(before <-chan bool) {
			err := l.opt.Receive(context.Background(), m)
			_, refused := errors.AsType[*mqtt.RefusedError](err)
			ok := <-before // nothing is acknowledged past a message that was not kept
			switch {
			case m.QoS == 0:
			case err != nil && !refused:
				if ok {
					time.Sleep(grace)
					fail(fmt.Errorf("a message could not be kept: %w", err))
				}
				ok = false
			case ok:
				ack()
			}
			mine <- ok
			<-l.slot
		}(before)
		before = mine
	}
}
