package mqttintake_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
	paho4 "github.com/eclipse/paho.mqtt.golang"

	"underlamp/intake"
	"underlamp/intake/mqttintake"
	"underlamp/internal/mqtttest"
	"underlamp/mqtt/mqttbroker"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// A faulty keeps readings once its gate is open, and fails while it is broken.
type faulty struct {
	*sqlite.DB
	broken atomic.Bool
	hold   atomic.Pointer[chan struct{}] // nil: no gate
	writes atomic.Int64
}

func (f *faulty) Append(ctx context.Context, rs []store.Reading) error {
	f.writes.Add(1)
	if gate := f.hold.Load(); gate != nil {
		<-*gate
	}
	if f.broken.Load() {
		return errors.New("no room on the disk")
	}
	return f.DB.Append(ctx, rs)
}

// A room is a store with an intake and a broker.
type room struct {
	store    *faulty
	in       *intake.Intake
	receiver *mqttintake.Receiver
	broker   *mqttbroker.Broker
	log      *mqtttest.Log
}

func newRoom(t testing.TB, opt mqttbroker.Options) *room {
	t.Helper()
	db, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	r := &room{store: &faulty{DB: db}, log: &mqtttest.Log{}}
	log := slog.New(slog.NewTextHandler(r.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	r.in = intake.New(r.store, intake.Options{Log: log})
	r.receiver = mqttintake.New(r.in, mqttintake.Options{Log: log})
	opt.Log = log
	if opt.Listen == "" {
		opt.Listen = "127.0.0.1:0"
	}
	if opt.FailDelay == 0 {
		opt.FailDelay = 10 * time.Millisecond
	}
	if r.broker, err = mqttbroker.Start(opt, r.store, r.receiver.Receive); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		r.broker.Close()
		r.in.Close()
		db.Close()
	})
	return r
}

// device enters a device and returns its token.
func (r *room) device(t testing.TB, name string) string {
	t.Helper()
	token, hash := store.NewToken()
	if err := r.store.AddDevice(context.Background(), store.Device{Name: name}, hash); err != nil {
		t.Fatal(err)
	}
	return token
}

// samples are the readings of a sensor; none if it is not there.
func samples(t testing.TB, s store.Store, key string) map[int64]float64 {
	t.Helper()
	x, err := s.Sensor(context.Background(), key)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	} else if err != nil {
		t.Fatal(err)
	}
	got, err := s.Samples(context.Background(), x.ID, 0, store.At(time.Now().Add(time.Hour)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[int64]float64{}
	for _, g := range got {
		out[g.At] = g.Value
	}
	if len(out) != len(got) {
		t.Fatal("an instant comes twice")
	}
	return out
}

// A client is a real one of either version.
type client interface {
	// publish waits for the acknowledgement; its error is what the broker said.
	publish(topic, payload string, qos byte) error
	subscribe(filter string) error
	got() chan string // "topic payload"
	lost() chan struct{}
	close()
}

type versioned struct {
	name    string
	connect func(address, id, user, password string) (client, error)
}

var versions = []versioned{{"3.1.1", connect4}, {"5", connect5}}

type client5 struct {
	c        *paho.Client
	messages chan string
	gone     chan struct{}
}

func connect5(address, id, user, password string) (client, error) {
	nc, err := net.Dial("tcp", address)
	if err != nil {
		return nil, err
	}
	x := &client5{messages: make(chan string, 100), gone: make(chan struct{})}
	var once sync.Once
	end := func() { once.Do(func() { close(x.gone) }) }
	x.c = paho.NewClient(paho.ClientConfig{
		Conn: nc, PacketTimeout: 2 * time.Minute,
		OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
			x.messages <- p.Packet.Topic + " " + string(p.Packet.Payload)
			return true, nil
		}},
		OnServerDisconnect: func(*paho.Disconnect) { end() },
		OnClientError:      func(error) { end() },
	})
	few := uint16(16) // the library makes room for as many
	if _, err := x.c.Connect(context.Background(), &paho.Connect{
		Properties: &paho.ConnectProperties{ReceiveMaximum: &few},
		ClientID:   id, CleanStart: true, KeepAlive: 30, Username: user, UsernameFlag: user != "", Password: []byte(password), PasswordFlag: password != "",
	}); err != nil {
		nc.Close()
		return nil, err
	}
	return x, nil
}

func (x *client5) publish(topic, payload string, qos byte) error {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	go func() {
		select {
		case <-x.gone: // the library waits on for what cannot come
			cancel()
		case <-ctx.Done():
		}
	}()
	res, err := x.c.Publish(ctx, &paho.Publish{Topic: topic, Payload: []byte(payload), QoS: qos})
	if res != nil && res.ReasonCode >= 0x80 {
		return fmt.Errorf("0x%x %s", res.ReasonCode, res.Properties.ReasonString)
	}
	return err
}

func (x *client5) subscribe(filter string) error {
	_, err := x.c.Subscribe(context.Background(), &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: filter, QoS: 1}}})
	return err
}

func (x *client5) got() chan string    { return x.messages }
func (x *client5) lost() chan struct{} { return x.gone }
func (x *client5) close()              { _ = x.c.Disconnect(&paho.Disconnect{}) }

type client4 struct {
	c        paho4.Client
	messages chan string
	gone     chan struct{}
}

func connect4(address, id, user, password string) (client, error) {
	x := &client4{messages: make(chan string, 100), gone: make(chan struct{})}
	o := paho4.NewClientOptions().AddBroker("tcp://" + address).SetProtocolVersion(4).SetClientID(id).SetUsername(user).SetPassword(password).
		SetAutoReconnect(false).SetConnectTimeout(2 * time.Minute).SetKeepAlive(30 * time.Second).
		SetConnectionLostHandler(func(paho4.Client, error) { close(x.gone) }).
		SetDefaultPublishHandler(func(_ paho4.Client, m paho4.Message) { x.messages <- m.Topic() + " " + string(m.Payload()) })
	x.c = paho4.NewClient(o)
	t := x.c.Connect()
	t.Wait()
	return x, t.Error()
}

func (x *client4) publish(topic, payload string, qos byte) error {
	t := x.c.Publish(topic, qos, false, payload)
	if !t.WaitTimeout(2 * time.Minute) {
		return errors.New("no acknowledgement")
	}
	return t.Error()
}

func (x *client4) subscribe(filter string) error {
	t := x.c.Subscribe(filter, 1, nil)
	if !t.WaitTimeout(2 * time.Minute) {
		return errors.New("no answer")
	}
	for _, code := range t.(*paho4.SubscribeToken).Result() {
		if code >= 0x80 {
			return errors.New("refused")
		}
	}
	return t.Error()
}

func (x *client4) got() chan string    { return x.messages }
func (x *client4) lost() chan struct{} { return x.gone }
func (x *client4) close()              { x.c.Disconnect(10) }

// until waits for something to hold.
func until(t testing.TB, what string, holds func() bool) {
	t.Helper()
	for begin := time.Now(); !holds(); time.Sleep(2 * time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal("not in time: ", what)
		}
	}
}

// Each version sends each kind of payload with each quality of service; what is not a
// device's own is kept from it; what can never be taken is acknowledged.
func TestDevices(t *testing.T) {
	for _, v := range versions {
		t.Run(v.name, func(t *testing.T) {
			r := newRoom(t, mqttbroker.Options{})
			token := r.device(t, "rack-2")
			r.device(t, "rack-3")
			c, err := v.connect(r.broker.Address(), "logger", "rack-2", token)
			if err != nil {
				t.Fatal(err)
			}
			defer c.close()
			for i, qos := range []byte{1, 2, 1} {
				if err := c.publish("rack-2", fmt.Sprintf(`[{"bn":"rack-2/","n":"air","u":"Cel","t":%d,"v":21}]`, 1795614000+i), qos); err != nil {
					t.Fatal(err)
				}
			}
			if err := c.publish("rack-2/box", `{"time":1795614000,"ppfd":212,"co2":800}`, 1); err != nil {
				t.Fatal(err)
			}
			if err := c.publish("rack-2/plain", `3.5`, 1); err != nil {
				t.Fatal(err)
			}
			if n := len(samples(t, r.store, "rack-2/air")); n != 3 {
				t.Errorf("%d readings of the air at its acknowledgement", n)
			}
			if n := len(samples(t, r.store, "rack-2/box/ppfd")) + len(samples(t, r.store, "rack-2/box/co2")) + len(samples(t, r.store, "rack-2/plain")); n != 3 {
				t.Errorf("%d readings of objects and numbers", n)
			}
			if err := c.publish("rack-2/loose", "4", 0); err != nil {
				t.Fatal(err)
			}
			until(t, "the reading without acknowledgement", func() bool { return len(samples(t, r.store, "rack-2/loose")) == 1 })

			// What can never be taken is done with; version 5 is told why.
			for _, bad := range []string{"on", `[{"n":"rack-3/air","v":1}]`, `{"time":4102444800,"a":1}`} {
				err := c.publish("rack-2/bad", bad, 1)
				if v.name == "5" && (err == nil || !strings.Contains(err.Error(), "0x99")) || v.name != "5" && err != nil {
					t.Errorf("%s: %v", bad, err)
				}
			}
			if got := r.receiver.Counts(); got.Refused != 3 || got.Messages != 6 || got.Readings != 7 || got.Failed != 0 {
				t.Errorf("%+v", got)
			}
			if !strings.Contains(r.log.String(), "a message was refused") || strings.Contains(r.log.String(), token) {
				t.Errorf("the log: %s", r.log)
			}

			// Reading: below its own name, and nothing else.
			for _, f := range []string{"#", "+/air", "rack-3/#", "$SYS/#", "rack-2", "$share/g/rack-2/#"} {
				if err := c.subscribe(f); err == nil {
					t.Errorf("it may read %s", f)
				}
			}
			if err := r.broker.Publish(context.Background(), "rack-2/lamp/set", []byte("60"), true); err != nil {
				t.Fatal(err)
			}
			if err := c.subscribe("rack-2/+/set"); err != nil {
				t.Fatal(err)
			}
			next := func(want string) {
				t.Helper()
				select {
				case got := <-c.got():
					if got != want {
						t.Errorf("%q, want %q", got, want)
					}
				case <-time.After(2 * time.Minute):
					t.Fatalf("%q did not come", want)
				}
			}
			// The subscription is acknowledged before what waits is sent; a newer message in
			// between would take its place.
			next("rack-2/lamp/set 60")
			if err := r.broker.Publish(context.Background(), "rack-2/lamp/set", []byte("70"), true); err != nil {
				t.Fatal(err)
			}
			next("rack-2/lamp/set 70")

			// A foreign topic: not acknowledged as taken, and nothing is kept.
			if err := c.publish("rack-3/air", "1", 1); err == nil {
				t.Error("it may publish below another's name")
			}
			if samples(t, r.store, "rack-3/air") != nil {
				t.Error("a foreign topic was kept")
			}
		})
	}
}

// A message that comes while a device is asking never loses to the one that waited.
func TestNewestLast(t *testing.T) {
	for _, v := range versions {
		t.Run(v.name, func(t *testing.T) {
			r := newRoom(t, mqttbroker.Options{})
			c, err := v.connect(r.broker.Address(), "lamps", "rack-2", r.device(t, "rack-2"))
			if err != nil {
				t.Fatal(err)
			}
			defer c.close()
			for i := range 30 {
				topic := fmt.Sprintf("rack-2/lamp-%d/set", i)
				if err := r.broker.Publish(context.Background(), topic, []byte("old"), true); err != nil {
					t.Fatal(err)
				}
				sent := make(chan error, 1)
				go func() { sent <- r.broker.Publish(context.Background(), topic, []byte("new"), true) }()
				if err := c.subscribe(topic); err != nil {
					t.Fatal(err)
				}
				if err := <-sent; err != nil {
					t.Fatal(err)
				}
				newest := false
				for end := false; !end; {
					select {
					case got := <-c.got():
						switch got {
						case topic + " new":
							if !newest { // nothing that was sent before comes after this
								if err := r.broker.Publish(context.Background(), topic, []byte("end"), false); err != nil {
									t.Fatal(err)
								}
							}
							newest = true
						case topic + " old":
							if newest {
								t.Error("the device holds to what was replaced")
							}
						case topic + " end":
							end = true
						}
					case <-time.After(2 * time.Minute):
						t.Fatal("the newest did not come")
					}
				}
			}
		})
	}
}

// Who is not let in: wrong token, another's token, revoked, names that would reach
// beyond themselves.
func TestLetIn(t *testing.T) {
	for _, v := range versions {
		t.Run(v.name, func(t *testing.T) {
			r := newRoom(t, mqttbroker.Options{Recheck: 20 * time.Millisecond})
			ctx := context.Background()
			token, other := r.device(t, "rack-2"), r.device(t, "rack-3")
			gone := r.device(t, "gone")
			if err := r.store.Revoke(ctx, "gone", 1); err != nil {
				t.Fatal(err)
			}
			wide := r.device(t, "rack-2/air")
			all := r.device(t, "#")
			for _, c := range [][2]string{{"rack-2", "ul_wrong"}, {"rack-2", ""}, {"rack-2", other}, {"", token}, {"gone", gone}, {"rack-2/air", wide}, {"#", all}} {
				if x, err := v.connect(r.broker.Address(), "x", c[0], c[1]); err == nil {
					x.close()
					t.Errorf("%q was let in", c[0])
				}
			}
			// One that is connected is cut off when it is revoked, and another is not.
			a, err := v.connect(r.broker.Address(), "x", "rack-2", token)
			if err != nil {
				t.Fatal(err)
			}
			b, err := v.connect(r.broker.Address(), "x", "rack-3", other) // the same name of session is no clash
			if err != nil {
				t.Fatal(err)
			}
			defer b.close()
			if err := a.publish("rack-2/air", "1", 1); err != nil {
				t.Fatal(err)
			}
			if err := r.store.Revoke(ctx, "rack-2", store.At(time.Now())); err != nil {
				t.Fatal(err)
			}
			select {
			case <-a.lost():
			case <-time.After(2 * time.Minute):
				t.Fatal("the revoked device is still connected")
			}
			if _, err := v.connect(r.broker.Address(), "x", "rack-2", token); err == nil {
				t.Error("the revoked device came in again")
			}
			if err := b.publish("rack-3/air", "1", 1); err != nil {
				t.Error(err)
			}
			for _, secret := range []string{token, other, gone, "ul_wrong"} {
				if strings.Contains(r.log.String(), secret) {
					t.Error("a token is in the log")
				}
			}
		})
	}
}

// While the store is slow nothing is acknowledged; if it fails neither, and the
// connection ends; sent again after that it counts once.
func TestAcknowledgesWhenKept(t *testing.T) {
	for _, v := range versions {
		t.Run(v.name, func(t *testing.T) {
			r := newRoom(t, mqttbroker.Options{})
			token := r.device(t, "rack")
			c, err := v.connect(r.broker.Address(), "a", "rack", token)
			if err != nil {
				t.Fatal(err)
			}
			const text = `[{"n":"rack/air","t":1795614000,"v":21}]`
			gate := make(chan struct{})
			r.store.hold.Store(&gate)
			acked := make(chan error, 1)
			go func() { acked <- c.publish("rack", text, 1) }()
			until(t, "the write begins", func() bool { return r.store.writes.Load() > 0 })
			select {
			case err := <-acked:
				t.Fatal("acknowledged before it was kept", err)
			case <-time.After(200 * time.Millisecond):
			}
			close(gate)
			if err := <-acked; err != nil {
				t.Fatal(err)
			}
			r.store.broken.Store(true)
			const next = `[{"n":"rack/air","t":1795614060,"v":22}]`
			if err := c.publish("rack", next, 1); err == nil {
				t.Fatal("acknowledged though the disk is full")
			}
			select {
			case <-c.lost():
			case <-time.After(2 * time.Minute):
				t.Fatal("still connected after a failure")
			}
			r.store.broken.Store(false)
			if c, err = v.connect(r.broker.Address(), "a", "rack", token); err != nil {
				t.Fatal(err)
			}
			defer c.close()
			for range 3 {
				if err := c.publish("rack", next, 1); err != nil {
					t.Fatal(err)
				}
			}
			if got := samples(t, r.store, "rack/air"); len(got) != 2 || got[1795614060e6] != 22 {
				t.Errorf("%v", got)
			}
			if n := r.receiver.Counts().Failed; n != 1 {
				t.Errorf("%d failed", n)
			}
		})
	}
}

// Bounds: a packet too large, too many sessions and connections, silence at the door.
func TestBounds(t *testing.T) {
	for _, v := range versions {
		t.Run(v.name, func(t *testing.T) {
			r := newRoom(t, mqttbroker.Options{MaxPacket: 2000, MaxSessions: 2, MaxConnections: 4, ConnectTime: 300 * time.Millisecond})
			token := r.device(t, "rack")
			c, err := v.connect(r.broker.Address(), "a", "rack", token)
			if err != nil {
				t.Fatal(err)
			}
			if err := c.publish("rack", strings.Repeat(" ", 3000), 1); err == nil {
				t.Error("a packet of 3000 bytes was taken")
			}
			if v.name == "3.1.1" { // version 5 was told, and did not send it
				<-c.lost()
			} else {
				c.close()
			}
			until(t, "the line is free", func() bool { return r.broker.Connections() == 0 })
			var open []client
			for i := range 2 {
				until(t, "a session is free", func() bool {
					c, err := v.connect(r.broker.Address(), fmt.Sprint("s", i), "rack", token)
					if err == nil {
						open = append(open, c)
					}
					return err == nil
				})
			}
			if _, err := v.connect(r.broker.Address(), "s2", "rack", token); err == nil {
				t.Error("a third session was let in")
			}
			open[0].close()
			until(t, "a session is free", func() bool {
				c, err := v.connect(r.broker.Address(), "s2", "rack", token)
				if err == nil {
					open = append(open, c)
				}
				return err == nil
			})
			until(t, "two are connected", func() bool { return r.broker.Connections() == 2 })
			// Two say nothing; the fifth is one too many; after a while they are sent away.
			var silent []net.Conn
			for range 2 {
				nc, err := net.Dial("tcp", r.broker.Address())
				if err != nil {
					t.Fatal(err)
				}
				defer nc.Close()
				silent = append(silent, nc)
			}
			until(t, "all places are taken", func() bool { return r.broker.Connections() == 4 })
			fifth, err := net.Dial("tcp", r.broker.Address())
			if err != nil {
				t.Fatal(err)
			}
			defer fifth.Close()
			fifth.SetDeadline(time.Now().Add(2 * time.Minute))
			if _, err := fifth.Read(make([]byte, 1)); err == nil || errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("the fifth: %v", err)
			}
			for _, nc := range silent {
				nc.SetDeadline(time.Now().Add(2 * time.Minute))
				if _, err := nc.Read(make([]byte, 1)); err == nil || strings.Contains(err.Error(), "timeout") {
					t.Errorf("a silent one: %v", err)
				}
			}
			until(t, "the silent are gone", func() bool { return r.broker.Connections() == 2 })
			for _, c := range open[1:] {
				c.close()
			}
		})
	}
}

// Whatever comes instead of MQTT, the broker stays.
func TestNoise(t *testing.T) {
	r := newRoom(t, mqttbroker.Options{ConnectTime: 200 * time.Millisecond})
	token := r.device(t, "rack")
	connect := func() []byte {
		var b bytes.Buffer
		p := packets.NewControlPacket(packets.CONNECT)
		x := p.Content.(*packets.Connect)
		x.ProtocolName, x.ProtocolVersion, x.CleanStart, x.KeepAlive = "MQTT", 5, true, 10
		x.ClientID, x.Username, x.UsernameFlag, x.Password, x.PasswordFlag = "n", "rack", true, []byte(token), true
		p.WriteTo(&b)
		return b.Bytes()
	}()
	for i, noise := range [][]byte{
		[]byte("GET / HTTP/1.1\r\n\r\n"),
		bytes.Repeat([]byte{0xff}, 100),
		{0x10, 0xff, 0xff, 0xff, 0x7f},
		append(bytes.Clone(connect), 0x30, 0x03, 0x00, 0x09, 'a'),
		append(bytes.Clone(connect), connect...),
		append(bytes.Clone(connect), 0x32, 0x07, 0x00, 0x04, 'r', 'a', 'c', 'k', 0x00),
		append(bytes.Clone(connect), 0xf0, 0x00),
	} {
		nc, err := net.Dial("tcp", r.broker.Address())
		if err != nil {
			t.Fatal(i, err)
		}
		nc.Write(noise)
		nc.SetDeadline(time.Now().Add(400 * time.Millisecond))
		for buf := make([]byte, 100); err == nil; {
			_, err = nc.Read(buf)
		}
		nc.Close()
	}
	c, err := connect5(r.broker.Address(), "a", "rack", token)
	if err != nil {
		t.Fatal(err)
	}
	defer c.close()
	if err := c.publish("rack/air", "1", 1); err != nil {
		t.Error(err)
	}
	if strings.Contains(r.log.String(), token) {
		t.Error("a token is in the log")
	}
}

// A thousand devices, each with its own token and connection, send at once. What was
// acknowledged is in the store.
func TestThousand(t *testing.T) {
	devices, each := 1000, 20
	if testing.Short() {
		devices, each = 100, 5
	}
	r := newRoom(t, mqttbroker.Options{})
	tokens := make([]string, devices)
	for i := range tokens {
		tokens[i] = r.device(t, fmt.Sprintf("d%d", i))
	}
	clients := make([]client, devices)
	begin := time.Now()
	var wg sync.WaitGroup
	gate := make(chan struct{}, 50)
	for i := range clients {
		gate <- struct{}{}
		wg.Go(func() {
			c, err := connect5(r.broker.Address(), "a", fmt.Sprintf("d%d", i), tokens[i])
			if err != nil {
				t.Error(err)
			}
			clients[i] = c
			<-gate
		})
	}
	wg.Wait()
	if t.Failed() {
		return
	}
	connected := time.Since(begin)
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	begin = time.Now()
	var failed atomic.Int64
	for i, c := range clients {
		wg.Go(func() {
			for k := range each {
				if c.publish(fmt.Sprintf("d%d", i), fmt.Sprintf(`[{"n":"d%d/air","t":%d,"v":21}]`, i, 1795614000+k), 1) != nil {
					failed.Add(1)
				}
			}
		})
	}
	wg.Wait()
	took := time.Since(begin)
	n := r.receiver.Counts().Readings
	t.Logf("%d devices connected in %v; heap with broker and clients %.1f MiB; %d readings, each acknowledged by itself, in %v: %.0f readings/s in %d writes",
		devices, connected.Round(time.Millisecond), float64(m.HeapAlloc)/(1<<20), n, took.Round(time.Millisecond), float64(n)/took.Seconds(), r.store.writes.Load())
	if failed.Load() > 0 || n != int64(devices*each) {
		t.Errorf("%d failed, %d readings of %d", failed.Load(), n, devices*each)
	}
	for i, c := range clients {
		if got := len(samples(t, r.store, fmt.Sprintf("d%d/air", i))); got != each {
			t.Fatalf("device %d: %d readings of %d", i, got, each)
		}
		c.close()
	}
}

// Readings a second through the broker to the disk, by how many come in a message; each
// message is acknowledged before its device sends the next.
func BenchmarkDevices(b *testing.B) {
	for _, pack := range []int{1, 20} {
		b.Run(fmt.Sprintf("1000 devices, %d in a message", pack), func(b *testing.B) {
			r := newRoom(b, mqttbroker.Options{})
			const devices = 1000
			tokens := make([]string, devices)
			for i := range tokens {
				tokens[i] = r.device(b, fmt.Sprintf("d%d", i))
			}
			var before, after runtime.MemStats
			clients := make([]client, devices)
			runtime.GC()
			runtime.ReadMemStats(&before)
			for i := range clients {
				c, err := connect5(r.broker.Address(), "a", fmt.Sprintf("d%d", i), tokens[i])
				if err != nil {
					b.Fatal(err)
				}
				clients[i] = c
			}
			runtime.GC()
			runtime.ReadMemStats(&after)
			var next atomic.Int64
			b.ReportAllocs()
			b.ResetTimer()
			var wg sync.WaitGroup
			for i, c := range clients {
				wg.Go(func() {
					for {
						k := next.Add(int64(pack)) - int64(pack)
						if k >= int64(b.N) {
							return
						}
						var text strings.Builder
						for j := range pack {
							fmt.Fprintf(&text, `,{"n":"d%d/air","t":%d,"v":21.5}`, i, 1700000000+k+int64(j))
						}
						if err := c.publish(fmt.Sprintf("d%d", i), "["+text.String()[1:]+"]", 1); err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			wg.Wait()
			b.StopTimer()
			b.ReportMetric(float64(r.receiver.Counts().Readings)/b.Elapsed().Seconds(), "readings/s")
			b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc+after.StackInuse-before.StackInuse)/devices/1024, "KiB/device")
			for _, c := range clients {
				c.close()
			}
		})
	}
}
