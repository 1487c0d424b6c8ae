package mqttbroker

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net"
	"slices"
	"sync"
	"time"

	server "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"

	"underlamp/mqtt"
	"underlamp/store"
)

// Options of a broker; zero values are the usual ones.
type Options struct {
	Listen string // address and port; empty means 127.0.0.1:1883
	// Files of a certificate and its key in PEM; both or none. TLS is 1.2 or later.
	CertFile, KeyFile string

	Log *slog.Logger // nil logs nothing

	MaxConnections int           // together; 0 means 2000
	MaxSessions    int           // of one device; 0 means 4
	MaxPacket      int           // bytes; 0 means 256 KiB
	MaxUnderWay    int           // messages of a session that are not acknowledged; 0 means 64
	ConnectTime    time.Duration // to say who one is; 0 means 10 s
	SessionTime    time.Duration // for which a session outlives its connection; 0 means a day
	Recheck        time.Duration // how often it is looked up who was revoked; 0 means 5 s
	FailDelay      time.Duration // before a wrong name or token is answered; 0 means 1 s
}

func (o Options) filled() Options {
	set := func(v *int, usual int) {
		if *v == 0 {
			*v = usual
		}
	}
	wait := func(v *time.Duration, usual time.Duration) {
		if *v == 0 {
			*v = usual
		}
	}
	if o.Listen == "" {
		o.Listen = "127.0.0.1:1883"
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	set(&o.MaxConnections, 2000)
	set(&o.MaxSessions, 4)
	set(&o.MaxPacket, 256<<10)
	set(&o.MaxUnderWay, 64)
	wait(&o.ConnectTime, 10*time.Second)
	wait(&o.SessionTime, 24*time.Hour)
	wait(&o.Recheck, 5*time.Second)
	wait(&o.FailDelay, time.Second)
	return o
}

// A Broker is at work from [Start] to Close. Its methods may be called together.
type Broker struct {
	opt     Options
	engine  *server.Server
	gate    *gate
	hook    *hook
	address string
	quit    chan struct{}
	over    sync.WaitGroup
	once    sync.Once
}

// A kept message waits for those who come later. The engine could keep it too, but writes
// it while it is read (seen with the race detector).
type kept struct {
	mu       sync.Mutex
	payloads map[string][]byte
}

// patience bounds how long a device may take to accept what waits for it.
const patience = 2 * time.Second

// send hands a device what waits for it on the topics that it has just asked for.
func (k *kept) send(cl *server.Client, filters []string) {
	k.mu.Lock() // no newer message overtakes
	defer k.mu.Unlock()
	for _, topic := range slices.Sorted(maps.Keys(k.payloads)) {
		if !slices.ContainsFunc(filters, func(f string) bool { return mqtt.Matches(f, topic) }) {
			continue
		}
		_ = cl.Net.Conn.SetWriteDeadline(time.Now().Add(patience)) // the engine moves it with the next packet
		_ = cl.WritePacket(packets.Packet{
			FixedHeader: packets.FixedHeader{Type: packets.Publish, Retain: true},
			TopicName:   topic, Payload: k.payloads[topic],
		})
	}
}

var _ mqtt.Publisher = (*Broker)(nil)

// Start opens the address and lets devices in. What they publish goes to receive, for
// several devices at once, for one session in order.
func Start(opt Options, devices store.Devices, receive mqtt.Receiver) (*Broker, error) {
	opt = opt.filled()
	if (opt.CertFile == "") != (opt.KeyFile == "") {
		return nil, errors.New("a certificate needs its key, and a key its certificate: name both files")
	}
	var secret *tls.Config
	if opt.CertFile != "" {
		cert, err := tls.LoadX509KeyPair(opt.CertFile, opt.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("the certificate of the broker cannot be used: %w", err)
		}
		secret = &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12}
	}
	tcp, err := net.Listen("tcp", opt.Listen)
	if err != nil {
		return nil, fmt.Errorf("the broker cannot listen on %s: %w", opt.Listen, err)
	}
	if ip := tcp.Addr().(*net.TCPAddr).IP; secret == nil && !ip.IsLoopback() {
		opt.Log.Warn("tokens of devices cross the network unencrypted: give the broker a certificate, or keep the network to yourself", "address", tcp.Addr().String())
	}
	g := &gate{Listener: tcp, most: opt.MaxConnections, wait: opt.ConnectTime, log: opt.Log}
	var door net.Listener = g
	if secret != nil {
		door = tls.NewListener(g, secret)
	}
	caps := server.NewDefaultServerCapabilities()
	caps.MaximumClients = int64(opt.MaxConnections)
	caps.MaximumClientWritesPending = 64 // a channel of this length is made for each client
	caps.MaximumSessionExpiryInterval = uint32(opt.SessionTime / time.Second)
	caps.MaximumPacketSize = uint32(opt.MaxPacket)
	caps.ReceiveMaximum = uint16(min(opt.MaxUnderWay, 65535))
	caps.MaximumInflight = uint16(min(opt.MaxUnderWay, 65535))
	caps.TopicAliasMaximum = 0 // the engine looks at rights before it looks up the alias
	caps.SharedSubAvailable = 0
	caps.MinimumProtocolVersion = 4
	caps.Compatibilities.NoInheritedPropertiesOnAck = true
	b := &Broker{opt: opt, gate: g, address: tcp.Addr().String(), quit: make(chan struct{})}
	b.engine = server.New(&server.Options{
		Capabilities: caps, InlineClient: true, SysTopicResendInterval: 3600,
		Logger: slog.New(slog.DiscardHandler),
	})
	b.hook = newHook(opt, devices, receive, b.engine)
	fail := func(err error) (*Broker, error) {
		tcp.Close()
		return nil, fmt.Errorf("the broker cannot start: %w", err)
	}
	if err := b.engine.AddHook(b.hook, nil); err != nil {
		return fail(err)
	}
	if err := b.engine.AddListener(listeners.NewNet("devices", door)); err != nil {
		return fail(err)
	}
	if err := b.engine.Serve(); err != nil {
		return fail(err)
	}
	b.over.Go(b.recheck)
	opt.Log.Info("the broker listens", "address", b.address, "tls", secret != nil)
	return b, nil
}

// Address is where the broker listens: "127.0.0.1:1883".
func (b *Broker) Address() string { return b.address }

// Connections is how many are open.
func (b *Broker) Connections() int { return int(b.gate.open.Load()) }

// Publish hands a message to the device whose topic it is, with QoS 1. One that is
// retained waits for it.
func (b *Broker) Publish(_ context.Context, topic string, payload []byte, retain bool) error {
	if !mqtt.ValidTopic(topic) {
		return fmt.Errorf("%q is no topic to publish on", topic)
	}
	b.hook.kept.mu.Lock()
	defer b.hook.kept.mu.Unlock()
	switch {
	case retain && len(payload) == 0: // nothing is to wait any more (OASIS2014, section 3.3.1.3)
		delete(b.hook.kept.payloads, topic)
	case retain:
		b.hook.kept.payloads[topic] = slices.Clone(payload)
	}
	return b.engine.Publish(topic, payload, false, 1)
}

// recheck cuts off the revoked until the broker is closed.
func (b *Broker) recheck() {
	tick := time.NewTicker(b.opt.Recheck)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			b.hook.cutRevoked()
		case <-b.quit:
			return
		}
	}
}

// Close ends all connections, when devices have had some time to accept what they were
// sent last. What was not acknowledged to them they send again.
func (b *Broker) Close() error {
	var err error
	b.once.Do(func() {
		close(b.quit)
		for begin := time.Now(); b.hook.underWay() && time.Since(begin) < patience; {
			time.Sleep(5 * time.Millisecond)
		}
		b.hook.stop()
		b.over.Wait()
		// The engine can wait for itself without end if a device leaves while it closes, so
		// all are sent away first, and it is not waited for longer than they are.
		err = b.gate.Close()
		for _, cl := range b.hook.connected(func(string) bool { return true }) {
			cut(b.engine, cl, packets.ErrServerShuttingDown)
		}
		for begin := time.Now(); b.Connections() > 0 && time.Since(begin) < patience; {
			time.Sleep(5 * time.Millisecond)
		}
		closed := make(chan error, 1)
		go func() { closed <- b.engine.Close() }()
		select {
		case e := <-closed:
			err = errors.Join(err, e)
		case <-time.After(patience):
			b.opt.Log.Warn("the broker did not end in time and was left", "after", patience)
		}
	})
	return err
}

// cut ends a connection. Only version 5 can be told why.
func cut(engine *server.Server, cl *server.Client, why packets.Code) {
	if cl.Properties.ProtocolVersion == 5 {
		_ = engine.DisconnectClient(cl, why)
		return
	}
	cl.Stop(why)
}
