package mqttlink

import (
	"context"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"

	"underlamp/mqtt"
)

// A fiveLine is a connection by version 5.
type fiveLine struct {
	client *paho.Client
	kept   bool
	ended
}

// ended tells once that a connection is over.
type ended struct {
	once  sync.Once
	gone  chan struct{}
	cause error
}

func (e *ended) end(why error) {
	e.once.Do(func() {
		e.cause = why
		close(e.gone)
	})
}

func (e *ended) lost() <-chan struct{} { return e.gone }
func (e *ended) why() error            { return e.cause }

// five signs in by version 5.
func (l *Link) five(ctx context.Context, c net.Conn) (line, error) {
	x := &fiveLine{ended: ended{gone: make(chan struct{})}}
	take := l.take(x.end)
	x.client = paho.NewClient(paho.ClientConfig{
		Conn: packets.NewThreadSafeConn(c),
		OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
			m := p.Packet
			take(mqtt.Message{Topic: m.Topic, Payload: m.Payload, QoS: m.QoS, Retained: m.Retain}, func() { _ = p.Client.Ack(m) })
			return true, nil
		}},
		OnServerDisconnect: func(d *paho.Disconnect) {
			x.end(fmt.Errorf("the broker ended the connection (reason 0x%02x)", d.ReasonCode))
		},
		OnClientError:              func(err error) { x.end(err) },
		PacketTimeout:              patience,
		EnableManualAcknowledgment: true,
		SendAcksInterval:           5 * time.Millisecond,
	})
	most := uint16(underWay)
	keep := uint32(0)
	switch {
	case l.keeps():
		keep = uint32(sessionTime / time.Second)
	case l.opt.Will != nil:
		keep = uint32(l.opt.Will.Delay / time.Second) // the will waits no longer than the session
	}
	connect := &paho.Connect{
		ClientID: l.opt.Client, CleanStart: !l.keeps(), KeepAlive: uint16(l.opt.KeepAlive / time.Second),
		Username: l.opt.User, UsernameFlag: l.opt.User != "", Password: []byte(l.opt.Password), PasswordFlag: l.opt.Password != "",
		Properties: &paho.ConnectProperties{ReceiveMaximum: &most, SessionExpiryInterval: &keep},
	}
	if w := l.opt.Will; w != nil {
		delay := uint32(w.Delay / time.Second)
		connect.WillMessage = &paho.WillMessage{Topic: w.Topic, Payload: w.Payload, QoS: 1, Retain: true}
		connect.WillProperties = &paho.WillProperties{WillDelayInterval: &delay}
	}
	ack, err := x.client.Connect(ctx, connect)
	if ack != nil && ack.ReasonCode >= 0x80 {
		reason := fmt.Sprintf("reason 0x%02x", ack.ReasonCode)
		switch ack.ReasonCode {
		case packets.ConnackUnsupportedProtocolVersion:
			return nil, errors.New("the broker does not speak MQTT 5")
		case packets.ConnackBadUsernameOrPassword, packets.ConnackNotAuthorized:
			reason = "wrong user or password"
		}
		return nil, &deniedError{reason}
	}
	if err != nil {
		return nil, err
	}
	if ack.ReasonCode != 0 { // the answer of 3.1.1: unacceptable protocol version
		x.hangUp()
		return nil, errors.New("the broker does not speak MQTT 5")
	}
	x.kept = ack.SessionPresent
	go func() {
		<-x.client.Done()
		x.end(errors.New("the connection is over"))
	}()
	return x, nil
}

func (x *fiveLine) version() string { return "5" }
func (x *fiveLine) resumed() bool   { return x.kept }

func (x *fiveLine) publish(ctx context.Context, topic string, payload []byte, retain bool) error {
	_, err := x.client.Publish(ctx, &paho.Publish{Topic: topic, Payload: payload, QoS: 1, Retain: retain})
	return err
}

func (x *fiveLine) subscribe(ctx context.Context, filters []string) error {
	var all []paho.SubscribeOptions
	for _, f := range filters {
		all = append(all, paho.SubscribeOptions{Topic: f, QoS: 1})
	}
	_, err := x.client.Subscribe(ctx, &paho.Subscribe{Subscriptions: all})
	return err
}

func (x *fiveLine) hangUp() { _ = x.client.Disconnect(&paho.Disconnect{ReasonCode: 0}) }
