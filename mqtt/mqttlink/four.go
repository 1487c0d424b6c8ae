package mqttlink

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"sync/atomic"
	"time"

	paho4 "github.com/eclipse/paho.mqtt.golang"
	packets4 "github.com/eclipse/paho.mqtt.golang/packets"

	"underlamp/mqtt"
)

// A fourLine is a connection by version 3.1.1, whose protocol level is 4.
type fourLine struct {
	client paho4.Client
	kept   bool
	ended
}

// four signs in by version 3.1.1.
func (l *Link) four(ctx context.Context, c net.Conn) (line, error) {
	x := &fourLine{ended: ended{gone: make(chan struct{})}}
	take := l.take(x.end)
	var used atomic.Bool
	o := paho4.NewClientOptions().
		AddBroker("tcp://" + l.opt.Address.Host).
		SetProtocolVersion(4).
		SetClientID(l.opt.Client).
		SetCleanSession(!l.keeps()).
		SetUsername(l.opt.User).
		SetPassword(l.opt.Password).
		SetKeepAlive(l.opt.KeepAlive).
		SetConnectTimeout(patience).
		SetWriteTimeout(patience).
		SetAutoReconnect(false).
		SetConnectRetry(false).
		SetAutoAckDisabled(true).
		SetConnectionLostHandler(func(_ paho4.Client, err error) { x.end(err) }).
		SetDefaultPublishHandler(func(_ paho4.Client, m paho4.Message) {
			take(mqtt.Message{Topic: m.Topic(), Payload: m.Payload(), QoS: m.Qos(), Retained: m.Retained()}, m.Ack)
		}).
		SetCustomOpenConnectionFn(func(*url.URL, paho4.ClientOptions) (net.Conn, error) {
			if used.Swap(true) {
				return nil, errors.New("one connection is one attempt")
			}
			return c, nil
		})
	if w := l.opt.Will; w != nil {
		o.SetBinaryWill(w.Topic, w.Payload, 1, true)
	}
	x.client = paho4.NewClient(o)
	t := x.client.Connect()
	if err := wait(ctx, t); err != nil {
		if errors.Is(err, packets4.ErrorRefusedBadUsernameOrPassword) || errors.Is(err, packets4.ErrorRefusedNotAuthorised) {
			return nil, &deniedError{"wrong user or password"}
		}
		return nil, err
	}
	x.kept = t.(*paho4.ConnectToken).SessionPresent()
	return x, nil
}

// wait waits for an answer, so long as it has any use.
func wait(ctx context.Context, t paho4.Token) error {
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return errors.New("the broker does not answer")
	}
}

func (x *fourLine) version() string { return "3.1.1" }
func (x *fourLine) resumed() bool   { return x.kept }

func (x *fourLine) publish(ctx context.Context, topic string, payload []byte, retain bool) error {
	t := x.client.Publish(topic, 1, retain, payload)
	select { // the token of a lost connection is never done
	case <-x.gone:
		return ErrDown
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (x *fourLine) subscribe(ctx context.Context, filters []string) error {
	all := map[string]byte{}
	for _, f := range filters {
		all[f] = 1
	}
	t := x.client.SubscribeMultiple(all, nil)
	if err := wait(ctx, t); err != nil {
		return err
	}
	for f, code := range t.(*paho4.SubscribeToken).Result() {
		if code >= 0x80 {
			return fmt.Errorf("the topic %s is refused", f)
		}
	}
	return nil
}

func (x *fourLine) hangUp() { x.client.Disconnect(250) }
