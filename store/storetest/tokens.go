package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	"underlamp/store"
)

// tokens: a token is found by its hash until it is revoked once, and who used it last is known.
func tokens(t *testing.T, s store.Store) {
	ctx := context.Background()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	a := store.Token{ID: "a", Hash: [32]byte{1}, Name: "script", Scopes: "read plan", Made: 10, Expires: 90}
	must(s.AddToken(ctx, a))
	must(s.AddToken(ctx, store.Token{ID: "b", Hash: [32]byte{2}, Name: "other", Scopes: "read", Made: 11, Expires: 90}))
	for _, again := range []store.Token{a, {ID: "c", Hash: a.Hash, Name: "x", Scopes: "read"}} {
		if err := s.AddToken(ctx, again); !errors.Is(err, store.ErrDiffers) {
			t.Errorf("the same again: %v", err)
		}
	}
	if err := s.AddToken(ctx, store.Token{ID: "d", Hash: [32]byte{3}}); err == nil {
		t.Error("a token of nobody was taken")
	}
	must(s.UseToken(ctx, "a", 20))
	must(s.UseToken(ctx, "a", 15)) // a server whose clock is behind
	a.Used = 20
	if got, err := s.TokenBy(ctx, a.Hash); err != nil || got != a {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := s.TokenBy(ctx, [32]byte{7}); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an unknown one: %v", err)
	}
	must(s.EndToken(ctx, "a", 30))
	for _, id := range []string{"a", "nothing"} {
		if err := s.EndToken(ctx, id, 31); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("ended %s again: %v", id, err)
		}
	}
	a.Revoked = 30
	if got, err := s.Tokens(ctx); err != nil || len(got) != 2 || got[0] != a || got[1].Name != "other" {
		t.Errorf("%+v, %v", got, err)
	}
}

// answers: of many that claim one answer one may work at it, the others are told what it
// answered, and what is over is forgotten.
func answers(t *testing.T, s store.Store) {
	ctx := context.Background()
	claim := store.Answer{Key: "k", Request: [32]byte{1}, Made: 10, Expires: 20}
	var mine atomic.Int64
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			got, ok, err := s.ClaimAnswer(ctx, claim)
			if err != nil {
				t.Error(err)
			} else if ok {
				mine.Add(1)
			} else if got.Key != "k" || got.Request != claim.Request || got.Status != 0 || got.Expires != 20 {
				t.Errorf("%+v", got)
			}
		})
	}
	all.Wait()
	if mine.Load() != 1 {
		t.Fatalf("%d may answer", mine.Load())
	}
	done := store.Answer{Key: "k", Request: claim.Request, Made: 10, Expires: 100, Status: 201, Head: []byte(`{"Location":"/x"}`), Body: []byte("made")}
	other := done
	other.Made = 9
	if err := s.PutAnswer(ctx, other); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("one that lost its claim answers: %v", err)
	}
	if err := s.PutAnswer(ctx, done); err != nil {
		t.Fatal(err)
	}
	if err := s.DropAnswer(ctx, claim); err != nil { // it is answered, so it stays
		t.Fatal(err)
	}
	later := store.Answer{Key: "k", Request: [32]byte{9}, Made: 50, Expires: 60}
	if got, ok, err := s.ClaimAnswer(ctx, later); err != nil || ok || got.Status != 201 || string(got.Body) != "made" || string(got.Head) != string(done.Head) || got.Request != claim.Request {
		t.Errorf("%+v, %t, %v", got, ok, err)
	}
	later.Made, later.Expires = 100, 120
	if _, ok, err := s.ClaimAnswer(ctx, later); err != nil || !ok {
		t.Errorf("after its end: %t, %v", ok, err)
	}
	if err := s.DropAnswer(ctx, later); err != nil {
		t.Fatal(err)
	}
	if _, ok, err := s.ClaimAnswer(ctx, later); err != nil || !ok {
		t.Errorf("after it was given up: %t, %v", ok, err)
	}
	if _, _, err := s.ClaimAnswer(ctx, store.Answer{}); err == nil {
		t.Error("an answer without a key")
	}
	// Keys apart do not hold each other up.
	for i := range 8 {
		all.Go(func() {
			if _, ok, err := s.ClaimAnswer(ctx, store.Answer{Key: fmt.Sprint("o", i), Made: 100, Expires: 200}); !ok || err != nil {
				t.Errorf("%t, %v", ok, err)
			}
		})
	}
	all.Wait()
}
