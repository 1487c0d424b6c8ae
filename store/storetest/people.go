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

// people: an invite lets in once, a session is found by the newest token and the one before,
// and what has ended has ended.
func people(t *testing.T, s store.Store) {
	ctx := context.Background()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	invite := store.Invite{ID: "i", Hash: [32]byte{1}, Person: "Ida", Role: "helper", Made: 10, Expires: 20}
	must(s.PutInvite(ctx, invite))
	must(s.PutInvite(ctx, store.Invite{ID: "j", Hash: [32]byte{2}, Person: "Ida", Role: "viewer", Made: 11, Expires: 90}))
	must(s.PutInvite(ctx, store.Invite{ID: "k", Hash: [32]byte{3}, Person: "Jon", Role: "owner", Made: 12, Expires: 90}))
	if err := s.PutInvite(ctx, invite); !errors.Is(err, store.ErrDiffers) {
		t.Errorf("the same invite again: %v", err)
	}
	if err := s.PutInvite(ctx, store.Invite{ID: "n", Hash: [32]byte{9}}); err == nil {
		t.Error("an invite of nobody was taken")
	}
	if got, err := s.Invites(ctx, 15); err != nil || len(got) != 3 || got[0] != invite {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err := s.Invites(ctx, 20); err != nil || len(got) != 2 {
		t.Errorf("after the end of one: %+v, %v", got, err)
	}

	// Of many that use one invite at once, one gets in.
	var in atomic.Int64
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			x := store.Session{ID: fmt.Sprint("s", i), Person: "Ida", Role: "helper", Device: "phone", Made: 15, Seen: 15, Expires: 100, Hash: [32]byte{50, byte(i)}, Issued: 15}
			err := s.Redeem(ctx, "i", x)
			if err == nil {
				in.Add(1)
			} else if !errors.Is(err, store.ErrNotFound) {
				t.Errorf("redeem: %v", err)
			}
		})
	}
	all.Wait()
	if in.Load() != 1 {
		t.Fatalf("%d got in", in.Load())
	}
	late := store.Session{ID: "late", Person: "Ida", Role: "viewer", Made: 90, Expires: 100, Hash: [32]byte{51}}
	if err := s.Redeem(ctx, "j", late); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an invite that is over: %v", err)
	}
	if err := s.Redeem(ctx, "nobody", late); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("no invite: %v", err)
	}
	list, err := s.Sessions(ctx)
	if err != nil || len(list) != 1 {
		t.Fatalf("%+v, %v", list, err)
	}
	x := list[0]
	first := x.Hash
	find := func(hash [32]byte) store.Session {
		t.Helper()
		got, err := s.SessionBy(ctx, hash)
		if err != nil || got.ID != x.ID {
			t.Errorf("%v: %+v, %v", hash[:2], got, err)
		}
		return got
	}
	gone := func(hash [32]byte) {
		t.Helper()
		if got, err := s.SessionBy(ctx, hash); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%v finds %+v, %v", hash[:2], got, err)
		}
	}
	renew := func(was, earlier, next [32]byte, want bool) {
		t.Helper()
		if ok, err := s.Renew(ctx, x.ID, was, earlier, next, 30); ok != want || err != nil {
			t.Errorf("renew: %v, %v", ok, err)
		}
	}
	if got := find(first); got != x || got.Device != "phone" {
		t.Errorf("%+v, of %+v", got, x)
	}
	gone([32]byte{})
	renew(first, first, [32]byte{60}, true)
	renew(first, first, [32]byte{61}, false)
	find(first)
	if got := find([32]byte{60}); got.Issued != 30 || got.Hash != [32]byte{60} {
		t.Errorf("%+v", got)
	}
	// The answer with the second token was lost: the first one gets a third, and stays.
	renew([32]byte{60}, first, [32]byte{62}, true)
	gone([32]byte{60})
	find(first)
	renew([32]byte{62}, [32]byte{62}, [32]byte{63}, true)
	gone(first)
	find([32]byte{62})

	must(s.See(ctx, x.ID, 50, 150))
	must(s.See(ctx, x.ID, 45, 145)) // late
	if got := find([32]byte{63}); got.Seen != 50 || got.Expires != 150 {
		t.Errorf("%+v", got)
	}
	must(s.EndSession(ctx, x.ID, 55))
	if err := s.EndSession(ctx, x.ID, 56); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("ended twice: %v", err)
	}
	if got := find([32]byte{63}); got.Revoked != 55 {
		t.Errorf("%+v", got)
	}
	renew([32]byte{63}, [32]byte{63}, [32]byte{64}, false)

	must(s.Redeem(ctx, "j", store.Session{ID: "again", Person: "Ida", Role: "viewer", Made: 60, Seen: 60, Expires: 200, Hash: [32]byte{70}, Issued: 60}))
	must(s.PutInvite(ctx, store.Invite{ID: "m", Hash: [32]byte{4}, Person: "Ida", Role: "viewer", Made: 61, Expires: 90}))
	if n, err := s.EndPerson(ctx, "Ida", 65); n != 2 || err != nil {
		t.Errorf("%d of Ida ended, %v", n, err)
	}
	if n, err := s.EndPerson(ctx, "Ida", 66); n != 0 || err != nil {
		t.Errorf("%d of Ida ended again, %v", n, err)
	}
	if got, err := s.Invites(ctx, 66); err != nil || len(got) != 1 || got[0].Person != "Jon" {
		t.Errorf("%+v, %v", got, err)
	}
	if list, err := s.Sessions(ctx); err != nil || len(list) != 2 || list[0].Revoked != 55 || list[1].Revoked != 65 {
		t.Errorf("%+v, %v", list, err)
	}
	// What ended long ago is dropped when somebody comes in.
	year := 366 * store.Day
	must(s.PutInvite(ctx, store.Invite{ID: "z", Hash: [32]byte{5}, Person: "Jon", Role: "owner", Made: year, Expires: year + 10}))
	must(s.Redeem(ctx, "z", store.Session{ID: "new", Person: "Jon", Role: "owner", Made: year + 1, Seen: year + 1, Expires: 2 * year, Hash: [32]byte{80}}))
	if list, err := s.Sessions(ctx); err != nil || len(list) != 1 || list[0].ID != "new" {
		t.Errorf("%+v, %v", list, err)
	}
}
