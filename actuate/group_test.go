package actuate_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"underlamp"
	"underlamp/actuate"
	"underlamp/store"
)

// From documents in the store: taken up, overridden, spoilt and dropped.
func TestGroup(t *testing.T) {
	r := newRoom(t)
	ctx, cancel := context.WithCancel(context.Background())
	put := func(kind, text string) {
		t.Helper()
		if err := r.db.PutDocument(ctx, store.Document{Kind: kind, Name: "rack", Text: []byte(text)}); err != nil {
			t.Fatal(err)
		}
	}
	bench := func(_ context.Context, name string) (*underlamp.Bench, error) {
		if name != "cellar-rack" {
			return nil, errors.New("not there")
		}
		return r.bench, nil
	}
	g := actuate.NewGroup(r.db, bench, r.way.dial, actuate.Options{Every: 5 * time.Millisecond, Now: func() time.Time { return r.wall }})
	done := make(chan struct{})
	go func() { g.Run(ctx); close(done) }()
	const text = `underlamp act: 1
bench: cellar-rack
zone: UTC
acting: yes
lamps:
  - lamp: left
    topic: rack/left
    payload: 0 to 255
    on at: 07:00
    limits: {dimming: 20 % to 90 %, hours: 18 h, change: any}
    safe: 30 %
`
	var sent []string
	hear := func(want string) {
		t.Helper()
		until(t, want, func() bool {
			sent = append(sent, r.way.take()...)
			return len(sent) > 0 && sent[len(sent)-1] == want
		})
	}
	put(actuate.KindAct, text)
	hear("rack/left 0")
	put(actuate.KindOverride, "underlamp override: 1\nlamps: [{lamp: left, dimming: 50 %}]\n")
	hear("rack/left 128")
	put(actuate.KindAct, strings.Replace(text, "zone", "bone", 1)) // spoilt: it goes on
	time.Sleep(50 * time.Millisecond)
	put(actuate.KindAct, text)
	if err := r.db.DropDocument(ctx, actuate.KindOverride, "rack"); err != nil {
		t.Fatal(err)
	}
	hear("rack/left 0")
	if got := g.Reports(); len(got) != 1 || got[0].Name != "rack" || !got[0].Live || len(got[0].Lamps) != 1 || got[0].Lamps[0].Payload != "0" {
		t.Errorf("%+v", got)
	}
	if err := r.db.DropDocument(ctx, actuate.KindAct, "rack"); err != nil {
		t.Fatal(err)
	}
	hear("rack/left 77") // 30 % of 255, rounded
	until(t, "nobody acts", func() bool { return len(g.Reports()) == 0 })
	put(actuate.KindAct, strings.Replace(text, "cellar-rack", "another", 1)) // no such bench
	time.Sleep(30 * time.Millisecond)
	cancel()
	<-done
	if len(sent) != 4 || len(r.way.take()) != 0 {
		t.Errorf("%v", sent)
	}
}
