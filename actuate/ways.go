package actuate

import (
	"context"

	"underlamp/mqtt"
	"underlamp/mqtt/mqttlink"
)

// Outside reaches lamps through an outside broker, by a connection for each, so that each
// has its will. The options are those of all, without Client, Filters, Receive, Will and
// Up.
func Outside(opt mqttlink.Options) Dial {
	return func(w Will, up func()) (Outlet, bool, error) {
		o := opt
		o.Client, o.Filters, o.Receive = "", nil, nil
		o.Will = &mqttlink.Will{Topic: w.Topic, Payload: w.Payload, Delay: w.Wait}
		o.Up = up
		link, err := mqttlink.Open(o)
		if err != nil {
			return nil, false, err
		}
		return link, true, nil
	}
}

// Inside reaches lamps that are devices of our own broker. Nobody sees to their wills.
func Inside(broker mqtt.Publisher) Dial {
	return func(Will, func()) (Outlet, bool, error) { return inside{broker}, false, nil }
}

type inside struct{ mqtt.Publisher }

// Close has nothing to close: the broker is not ours to end.
func (inside) Close() {}

// Publish hands the message to the broker.
func (i inside) Publish(ctx context.Context, topic string, payload []byte, retain bool) error {
	return i.Publisher.Publish(ctx, topic, payload, retain)
}
