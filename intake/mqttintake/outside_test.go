package mqttintake_test

import (
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/intake"
	"underlamp/intake/mqttintake"
	"underlamp/internal/mqtttest"
	"underlamp/mqtt/mqttlink"
	"underlamp/store/sqlite"
)

// Through an outside broker, with the line cut again and again and the disk failing now
// and then: what the broker took from the sensor is in the store, each once.
func TestOutside(t *testing.T) {
	for name, start := range mqtttest.Kinds(t) {
		for _, version := range []string{"5", "3.1.1"} {
			t.Run(name+" "+version, func(t *testing.T) {
				// This engine loses what is published at the very instant at which it hands a
				// session over (seen here, with mosquitto never): it is not pressed there. Our
				// own broker passes nothing on, so that readings are not touched by it.
				gentle := name == "mochi"
				b := start(t)
				line := mqtttest.NewLine(t, b.Address)
				if version == "3.1.1" {
					line = mqtttest.NewOldLine(t, b.Address)
				}
				db, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
				if err != nil {
					t.Fatal(err)
				}
				defer db.Close()
				kept := &faulty{DB: db}
				in := intake.New(kept, intake.Options{})
				defer in.Close()
				log := &mqtttest.Log{}
				logger := slog.New(slog.NewTextHandler(log, nil))
				receiver := mqttintake.New(in, mqttintake.Options{Log: logger})
				var up atomic.Int64 // connections so far: a short one may come and go between two looks
				open := func() *mqttlink.Link {
					before := up.Load()
					l, err := mqttlink.Open(mqttlink.Options{
						Address: mqttlink.Address{Host: line.Address}, Client: "underlamp-test", Filters: []string{"home/rack/#"},
						Receive: receiver.Receive, Retry: 5 * time.Millisecond, Log: logger, Up: func() { up.Add(1) },
					})
					if err != nil {
						t.Fatal(err)
					}
					until(t, "the link", func() bool { return up.Load() > before })
					return l
				}
				link := open()
				defer func() { link.Close() }()
				if link.Version() != version {
					t.Errorf("version %s", link.Version())
				}
				sensor, err := connect5(b.Address, "sensor", "", "")
				if err != nil {
					t.Fatal(err)
				}
				defer sensor.close()
				rounds, each := 10, 30
				if testing.Short() {
					rounds = 4
				}
				rng := rand.New(rand.NewPCG(1, 2))
				n := 0
				for round := range rounds {
					for range each {
						if err := sensor.publish("home/rack/box", fmt.Sprintf(`{"time":%d,"air":%d}`, 1795614000+n, n), 1); err != nil {
							t.Fatal(err)
						}
						n++
						if rng.IntN(each) == 0 {
							before := up.Load()
							line.Cut()
							line.Mend()
							if gentle {
								until(t, "the link is back", func() bool { return up.Load() > before })
							}
						}
					}
					kept.broken.Store(round%3 == 1 && !gentle)
					if round == rounds/2 { // the program is started anew
						kept.broken.Store(false)
						link.Close()
						link = open()
					}
				}
				kept.broken.Store(false)
				until(t, "all of it", func() bool { return len(samples(t, db, "home/rack/box/air")) >= n })
				got := samples(t, db, "home/rack/box/air")
				for i := range n {
					if v, ok := got[int64(1795614000+i)*1e6]; !ok || v != float64(i) {
						t.Fatalf("reading %d: %v, %v", i, v, ok)
					}
				}
				if len(got) != n {
					t.Errorf("%d readings of %d", len(got), n)
				}
				// The broker itself dies and comes back: what comes after that is kept.
				b.Stop()
				until(t, "the link knows", func() bool { return !link.Connected() })
				b.Start()
				until(t, "the link is back", link.Connected)
				if sensor, err = connect5(b.Address, "sensor", "", ""); err != nil {
					t.Fatal(err)
				}
				if err := sensor.publish("home/rack/box", `{"time":1795620000,"air":1}`, 1); err != nil {
					t.Fatal(err)
				}
				until(t, "the reading after that", func() bool { return len(samples(t, db, "home/rack/box/air")) == n+1 })
				t.Logf("%d messages, of which %d were not kept at first", n+1, receiver.Counts().Failed)
			})
		}
	}
}

// An old message that the broker kept has no time of its own, unless it carries one.
func TestRetained(t *testing.T) {
	for name, start := range mqtttest.Kinds(t) {
		t.Run(name, func(t *testing.T) {
			b := start(t)
			sender, err := mqttlink.Open(mqttlink.Options{Address: mqttlink.Address{Host: b.Address}, Retry: 5 * time.Millisecond})
			if err != nil {
				t.Fatal(err)
			}
			defer sender.Close()
			until(t, "the sender", sender.Connected)
			publish := func(topic, text string) {
				if err := sender.Publish(context.Background(), topic, []byte(text), true); err != nil {
					t.Fatal(err)
				}
			}
			publish("rack/plain", "1")
			publish("rack/box", `{"air":1}`)
			publish("rack/pack", `[{"n":"rack/past","t":-10,"v":1}]`)
			publish("rack/timed", `{"time":1795614000,"air":1}`)
			db, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			in := intake.New(db, intake.Options{})
			defer in.Close()
			receiver := mqttintake.New(in, mqttintake.Options{})
			link, err := mqttlink.Open(mqttlink.Options{
				Address: mqttlink.Address{Host: b.Address}, Client: "underlamp-test", Filters: []string{"rack/#"}, Receive: receiver.Receive, Retry: 5 * time.Millisecond,
			})
			if err != nil {
				t.Fatal(err)
			}
			defer link.Close()
			until(t, "the old ones", func() bool { c := receiver.Counts(); return c.Old == 3 && c.Messages == 1 })
			publish("rack/plain", "2") // now it is new
			until(t, "the new one", func() bool { return len(samples(t, db, "rack/plain")) == 1 })
			if len(samples(t, db, "rack/timed/air")) != 1 || samples(t, db, "rack/box/air") != nil || samples(t, db, "rack/past") != nil {
				t.Error("old ones were kept as new, or left though they carry their time")
			}
		})
	}
}
