package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"sync"
	"time"

	"underlamp"
	"underlamp/actuate"
	"underlamp/cli"
	"underlamp/formats/benchfolder"
	"underlamp/intake"
	"underlamp/intake/fileintake"
	"underlamp/intake/mqttintake"
	"underlamp/monitor"
	"underlamp/mqtt"
	"underlamp/mqtt/mqttbroker"
	"underlamp/mqtt/mqttlink"
	"underlamp/store"
)

// counted is an intake whose readings are counted.
type counted struct {
	*intake.Intake
	by monitor.Taker
}

// Take keeps readings; see [intake.Intake.Take].
func (c counted) Take(ctx context.Context, readings []intake.Reading) error {
	return c.by.Take(ctx, readings)
}

// reached says where lines end.
type reached struct {
	broker  string         // host:port of our own; empty: none
	publish mqtt.Publisher // for messages to people; nil: none
}

// lines are the ways in and out besides HTTP: brokers, a folder of tables, lamps. stop ends
// them, lamps first, so that they can still be set to their safe state.
func lines(ctx context.Context, o cli.ServeOptions, kept store.Store, in counted, benches fs.FS, zone *time.Location, log *slog.Logger) (at reached, stop func(), err error) {
	var ends []func() // the last begun ends first
	stop = func() {
		for i := len(ends) - 1; i >= 0; i-- {
			ends[i]()
		}
	}
	defer func() {
		if err != nil {
			stop()
		}
	}()
	// run goes on until its end, and waits for it.
	run := func(work func(ctx context.Context)) {
		own, cancel := context.WithCancel(context.WithoutCancel(ctx))
		var over sync.WaitGroup
		over.Go(func() { work(own) })
		ends = append(ends, func() {
			cancel()
			over.Wait()
		})
	}
	receiver := mqttintake.New(in, mqttintake.Options{Log: log})
	dial := actuate.Dial(func(actuate.Will, func()) (actuate.Outlet, bool, error) {
		return nil, false, errors.New("there is no broker: serve takes --mqtt for its own, or --broker for another one")
	})
	if o.MQTT != "" {
		broker, err := mqttbroker.Start(mqttbroker.Options{Listen: o.MQTT, CertFile: o.CertFile, KeyFile: o.KeyFile, Log: log}, kept, receiver.Receive)
		if err != nil {
			return at, stop, err
		}
		ends = append(ends, func() { broker.Close() })
		dial = actuate.Inside(broker)
		at.broker, at.publish = broker.Address(), broker
	}
	if o.Broker != "" {
		address, err := mqttlink.ParseAddress(o.Broker)
		if err != nil {
			return at, stop, err
		}
		user, password, err := mqttlink.Credentials(os.Getenv)
		if err != nil {
			return at, stop, err
		}
		opt := mqttlink.Options{Address: address, User: user, Password: password, CAFile: o.BrokerCA, Log: log}
		dial = actuate.Outside(opt)
		if len(o.Topics) > 0 {
			if opt.Client, err = clientName(ctx, kept); err != nil {
				return at, stop, err
			}
			opt.Filters, opt.Receive = o.Topics, receiver.Receive
			link, err := mqttlink.Open(opt)
			if err != nil {
				return at, stop, err
			}
			ends = append(ends, link.Close)
			at.publish = link
		}
	}
	if o.Tables != "" {
		if info, err := os.Stat(o.Tables); err != nil || !info.IsDir() {
			return at, stop, fmt.Errorf("%s is no folder that tables can be taken from", o.Tables)
		}
		watch := fileintake.Options{Log: log}
		if o.Zone != "" { // that of this machine may not be that of the loggers
			watch.Zone = zone
		}
		run(fileintake.New(os.DirFS(o.Tables), in, kept, watch).Run)
	}
	group := actuate.NewGroup(kept, func(_ context.Context, name string) (*underlamp.Bench, error) {
		return benchfolder.Bench(benches, name)
	}, dial, actuate.Options{Log: log})
	run(group.Run)
	return at, stop, nil
}

// clientName is what this machine is called by at outside brokers, the same at each start,
// so that they keep what comes while it is away.
func clientName(ctx context.Context, docs store.Documents) (string, error) {
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	const kind = "mqtt client"
	d, err := docs.Document(ctx, kind, host)
	if err == nil {
		return string(d.Text), nil
	}
	if !errors.Is(err, store.ErrNotFound) {
		return "", err
	}
	name := mqttlink.NewClient()
	return name, docs.PutDocument(ctx, store.Document{Kind: kind, Name: host, Recorded: store.At(time.Now()), Text: []byte(name)})
}
