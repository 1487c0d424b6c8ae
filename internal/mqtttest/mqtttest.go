// Package mqtttest starts brokers for tests that stand for an outside one: the engine of
// mochi-mqtt without any of our rules, and mosquitto where it is installed. A line between
// a client and a broker can be cut and mended, and made to know MQTT 3.1.1 alone.
package mqtttest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/paho"
	server "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// A Broker runs until the test ends.
type Broker struct {
	Address string // "127.0.0.1:40000"
	Stop    func() // it dies; sessions are lost
	Start   func() // it comes back at the same address
}

// Kinds are the brokers that can be had on this machine, by name.
func Kinds(t testing.TB) map[string]func(t testing.TB) *Broker {
	t.Helper()
	all := map[string]func(testing.TB) *Broker{"mochi": Mochi}
	if _, err := mosquitto(); err == nil {
		all["mosquitto"] = Mosquitto
	} else {
		t.Log("mosquitto is not installed: the test runs with the other broker alone")
	}
	return all
}

// anybody lets everybody do everything, or those who know the password.
type anybody struct {
	server.HookBase
	user, password string
}

func (*anybody) ID() string { return "anybody" }
func (*anybody) Provides(b byte) bool {
	return b == server.OnConnectAuthenticate || b == server.OnACLCheck
}
func (a *anybody) OnConnectAuthenticate(_ *server.Client, pk packets.Packet) bool {
	return a.user == "" || string(pk.Connect.Username) == a.user && string(pk.Connect.Password) == a.password
}
func (*anybody) OnACLCheck(*server.Client, string, bool) bool { return true }

// Mochi starts a broker that lets everybody do everything.
func Mochi(t testing.TB) *Broker { return MochiFor(t, "", "") }

// MochiFor starts a broker for who knows the password.
func MochiFor(t testing.TB, user, password string) *Broker {
	t.Helper()
	b := &Broker{Address: freeAddress(t)}
	var s *server.Server
	b.Stop = func() {
		if s != nil {
			s.Close()
			s = nil
		}
	}
	b.Start = func() {
		s = server.New(&server.Options{Logger: slog.New(slog.DiscardHandler)})
		if err := s.AddHook(&anybody{user: user, password: password}, nil); err != nil {
			t.Fatal(err)
		}
		if err := s.AddListener(listeners.NewTCP(listeners.Config{ID: "t", Address: b.Address})); err != nil {
			t.Fatal(err)
		}
		if err := s.Serve(); err != nil {
			t.Fatal(err)
		}
	}
	b.Start()
	t.Cleanup(b.Stop)
	return b
}

func mosquitto() (string, error) {
	if path, err := exec.LookPath("mosquitto"); err == nil {
		return path, nil
	}
	return exec.LookPath("/usr/sbin/mosquitto")
}

// Mosquitto starts the broker of Debian.
func Mosquitto(t testing.TB) *Broker {
	t.Helper()
	path, err := mosquitto()
	if err != nil {
		t.Skip("mosquitto is not installed")
	}
	b := &Broker{Address: freeAddress(t)}
	_, port, _ := net.SplitHostPort(b.Address)
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	text := fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous true\npersistence false\nmax_queued_messages 100000\n", port)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var cmd *exec.Cmd
	b.Stop = func() {
		if cmd != nil {
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
			cmd = nil
		}
	}
	b.Start = func() {
		cmd = exec.Command(path, "-c", conf)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for begin := time.Now(); ; time.Sleep(10 * time.Millisecond) {
			c, err := net.Dial("tcp", b.Address)
			if err == nil {
				c.Close()
				return
			}
			if time.Since(begin) > 10*time.Second {
				t.Fatal("mosquitto does not listen: ", err)
			}
		}
	}
	b.Start()
	t.Cleanup(b.Stop)
	return b
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// Hear reads a topic until the test ends. The returned function gives what has come so far
// in the order in which the broker sent it, which several receivers of one link at work
// together do not keep.
func Hear(t testing.TB, address, topic string) func() []string {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	var mu sync.Mutex
	var all []string
	client := paho.NewClient(paho.ClientConfig{
		Conn: c,
		OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
			mu.Lock()
			defer mu.Unlock()
			all = append(all, string(p.Packet.Payload))
			return true, nil
		}},
		PacketTimeout: time.Minute,
	})
	if _, err := client.Connect(context.Background(), &paho.Connect{ClientID: "hears", CleanStart: true, KeepAlive: 30}); err != nil {
		t.Fatal(err)
	}
	if _, err := client.Subscribe(context.Background(), &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: topic, QoS: 1}}}); err != nil {
		t.Fatal(err)
	}
	return func() []string {
		mu.Lock()
		defer mu.Unlock()
		return slices.Clone(all)
	}
}

// A Line passes bytes on to a broker, until it is cut.
type Line struct {
	Address  string
	to       string
	onlyFour bool
	listener net.Listener

	mu    sync.Mutex
	down  bool
	conns map[net.Conn]bool
}

// NewLine lays a line to a broker.
func NewLine(t testing.TB, to string) *Line { return newLine(t, to, false) }

// NewOldLine lays a line to what looks like a broker that knows MQTT 3.1.1 alone.
func NewOldLine(t testing.TB, to string) *Line { return newLine(t, to, true) }

func newLine(t testing.TB, to string, onlyFour bool) *Line {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	x := &Line{Address: l.Addr().String(), to: to, onlyFour: onlyFour, listener: l, conns: map[net.Conn]bool{}}
	go x.run()
	t.Cleanup(func() {
		l.Close()
		x.Cut()
	})
	return x
}

// Cut ends all connections without a word, and takes no new ones.
func (x *Line) Cut() {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.down = true
	for c := range x.conns {
		c.Close()
	}
	clear(x.conns)
}

// Mend takes connections again.
func (x *Line) Mend() {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.down = false
}

func (x *Line) run() {
	for {
		c, err := x.listener.Accept()
		if err != nil {
			return
		}
		go x.pass(c)
	}
}

// hold enters connections that a cut is to end.
func (x *Line) hold(cs ...net.Conn) bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	for _, c := range cs {
		if x.down {
			c.Close()
			continue
		}
		x.conns[c] = true
	}
	return !x.down
}

func (x *Line) pass(c net.Conn) {
	if !x.hold(c) {
		return
	}
	first := make([]byte, 1024)
	n, err := io.ReadAtLeast(c, first, 12) // a client may write it in pieces
	if err != nil {
		c.Close()
		return
	}
	first = first[:n]
	// The protocol level stands behind the name (OASIS2014, section 3.1.2.2).
	if i := bytes.Index(first, []byte("MQTT")); x.onlyFour && i >= 0 && first[i+4] != 4 {
		c.Write([]byte{0x20, 0x02, 0x00, 0x01}) // unacceptable protocol version
		c.Close()
		return
	}
	up, err := net.Dial("tcp", x.to)
	if err != nil || !x.hold(up) {
		c.Close()
		return
	}
	up.Write(first)
	go func() {
		io.Copy(up, c)
		up.Close()
	}()
	io.Copy(c, up)
	c.Close()
}

// Log is a text that several may write and read together.
type Log struct {
	mu sync.Mutex
	b  bytes.Buffer
}

// Write adds to the text.
func (l *Log) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

// String is the text so far.
func (l *Log) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
