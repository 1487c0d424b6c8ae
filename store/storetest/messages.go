package storetest

import (
	"context"
	"errors"
	"sync"
	"testing"

	"underlamp/store"
)

func messages(t *testing.T, s store.Store) {
	ctx := context.Background()
	wet := store.Message{Bench: "rack", Rule: "humidity high", Text: "The humidity is at 92 %.", Mend: "Ventilate.", Since: 5, Opened: 10}
	first, fresh, err := s.OpenMessage(ctx, wet)
	if err != nil || !fresh || first.ID == 0 || first.Closed != 0 || first.Text != wet.Text || first.Since != 5 {
		t.Fatalf("%+v, %v, %v", first, fresh, err)
	}
	wet.Text, wet.Urgent, wet.Since, wet.Opened = "The humidity is at 95 %.", true, 7, 20
	again, fresh, err := s.OpenMessage(ctx, wet)
	if err != nil || fresh || again.ID != first.ID || again.Text != wet.Text || !again.Urgent || again.Since != 5 || again.Opened != 10 {
		t.Errorf("opened again: %+v, %v, %v", again, fresh, err)
	}
	if _, _, err := s.OpenMessage(ctx, store.Message{Bench: "rack", Opened: 1}); err == nil {
		t.Error("a message of no rule was taken")
	}
	if _, fresh, err := s.OpenMessage(ctx, store.Message{Bench: "cellar", Rule: "humidity high", Opened: 15}); err != nil || !fresh {
		t.Errorf("the same rule of another bench: %v, %v", fresh, err)
	}
	if err := s.Acknowledge(ctx, first.ID, "Ines", 30); err != nil {
		t.Fatal(err)
	}
	if err := s.Acknowledge(ctx, first.ID, "Paul", 40); err != nil {
		t.Errorf("acknowledged twice: %v", err)
	}
	if err := s.Acknowledge(ctx, 1<<40, "Paul", 40); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a message that is not there: %v", err)
	}
	open, err := s.OpenMessages(ctx, "rack")
	if err != nil || len(open) != 1 || open[0].By != "Ines" || open[0].Acknowledged != 30 {
		t.Errorf("%+v, %v", open, err)
	}
	if all, err := s.OpenMessages(ctx, ""); err != nil || len(all) != 2 || all[0].Bench != "rack" {
		t.Errorf("%+v, %v", all, err)
	}
	if ok, err := s.CloseMessage(ctx, "rack", "humidity high", 50); err != nil || !ok {
		t.Errorf("closing: %v, %v", ok, err)
	}
	if ok, err := s.CloseMessage(ctx, "rack", "humidity high", 60); err != nil || ok {
		t.Errorf("closing twice: %v, %v", ok, err)
	}
	wet.Opened = 70
	next, fresh, err := s.OpenMessage(ctx, wet)
	if err != nil || !fresh || next.ID == first.ID || next.Acknowledged != 0 {
		t.Errorf("opened after it was closed: %+v, %v, %v", next, fresh, err)
	}
	for _, c := range []struct {
		from, to int64
		n        int
	}{{0, 100, 2}, {0, 10, 0}, {0, 11, 1}, {50, 70, 1}, {51, 70, 0}, {90, 95, 1}} {
		if got, err := s.Messages(ctx, "rack", c.from, c.to); err != nil || len(got) != c.n {
			t.Errorf("open from %d to before %d: %d messages, want %d (%v)", c.from, c.to, len(got), c.n, err)
		}
	}
	// Eight servers that notice the same at once open one message.
	var wg sync.WaitGroup
	var mu sync.Mutex
	ids, news := map[int64]bool{}, 0
	for range 8 {
		wg.Go(func() {
			m, fresh, err := s.OpenMessage(ctx, store.Message{Bench: "shared", Rule: "dew", Text: "Dew is near.", Opened: 5})
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			defer mu.Unlock()
			ids[m.ID] = true
			if fresh {
				news++
			}
		})
	}
	wg.Wait()
	if len(ids) != 1 || news != 1 {
		t.Errorf("eight at once opened %d messages, %d of them new", len(ids), news)
	}
}

func deliveries(t *testing.T, s store.Store) {
	ctx := context.Background()
	plan := []store.Delivery{{Message: 1, Event: "open", Receiver: "page", Due: 10}, {Message: 1, Event: "open", Receiver: "mail", Due: 20}, {Message: 2, Event: "open", Receiver: "mail", Due: 5}}
	for range 2 { // the second time changes nothing
		if err := s.PlanDeliveries(ctx, plan); err != nil {
			t.Fatal(err)
		}
	}
	got, err := s.ClaimDeliveries(ctx, 10, 100, 5)
	if err != nil || len(got) != 2 {
		t.Fatalf("%+v, %v", got, err)
	}
	if again, err := s.ClaimDeliveries(ctx, 50, 150, 5); err != nil || len(again) != 1 || again[0] != plan[1] {
		t.Errorf("claimed by another: %+v, %v", again, err)
	}
	done := store.Delivery{Message: 1, Event: "open", Receiver: "page", Due: 10, Tries: 1, Done: 60}
	later := store.Delivery{Message: 2, Event: "open", Receiver: "mail", Due: 300, Tries: 1, Fault: "no connection"}
	for _, d := range []store.Delivery{done, later} {
		if err := s.PutDelivery(ctx, d); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.PutDelivery(ctx, store.Delivery{Message: 9, Event: "open", Receiver: "mail"}); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("one that nobody planned: %v", err)
	}
	// At 160 the claim of the second has run out, as that of a server that died.
	if got, err := s.ClaimDeliveries(ctx, 160, 200, 5); err != nil || len(got) != 1 || got[0].Receiver != "mail" || got[0].Message != 1 {
		t.Errorf("after the claim: %+v, %v", got, err)
	}
	if got, err := s.ClaimDeliveries(ctx, 400, 500, 1); err != nil || len(got) != 1 {
		t.Errorf("one at a time: %+v, %v", got, err)
	}
	if err := s.PlanDeliveries(ctx, plan); err != nil {
		t.Fatal(err)
	}
	if all, err := s.Deliveries(ctx, 1); err != nil || len(all) != 2 || all[1] != done {
		t.Errorf("%+v, %v", all, err)
	}
	// Of many that claim at once each gets others.
	var many []store.Delivery
	for i := range 200 {
		many = append(many, store.Delivery{Message: int64(100 + i), Event: "open", Receiver: "mail", Due: 1})
	}
	if err := s.PlanDeliveries(ctx, many); err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[int64]int{}
	for range 4 {
		wg.Go(func() {
			for range 100 {
				got, err := s.ClaimDeliveries(ctx, 2, 1000, 10)
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				for _, d := range got {
					seen[d.Message]++
				}
				mu.Unlock()
				if len(got) == 0 {
					return
				}
			}
		})
	}
	wg.Wait()
	// One that found others at work may have stopped early.
	rest, err := s.ClaimDeliveries(ctx, 2, 1000, 1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range rest {
		seen[d.Message]++
	}
	for id, n := range seen {
		if n != 1 {
			t.Errorf("delivery of message %d was claimed %d times", id, n)
		}
	}
	if len(seen) != 200 {
		t.Errorf("%d of 200 were claimed", len(seen))
	}
}
