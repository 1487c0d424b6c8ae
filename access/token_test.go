package access_test

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"underlamp/access"
	"underlamp/store/sqlite"
)

// A token lets in until it is over or revoked, and says when it was used, to the minute.
func TestTokenEnds(t *testing.T) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "s.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2026, 11, 26, 8, 0, 0, 0, time.UTC)
	k := access.NewTokens(s, func() time.Time { return now })
	text, made, err := k.Add(ctx, " nightly ", []access.Scope{access.ScopePlan, access.ScopeRead, access.ScopePlan}, time.Hour)
	if err != nil || made.Name != "nightly" || len(made.Scopes) != 2 || !made.May(access.ScopeWrite, access.ScopeRead) || made.May(access.ScopeManage) {
		t.Fatalf("%+v %v", made, err)
	}
	for _, bad := range []string{"", text[1:], text + "x", strings.ToUpper(text), text[:len(text)-1] + "_", "ult_" + strings.Repeat("A", 43)} {
		if _, err := k.Enter(ctx, bad); !errors.Is(err, access.ErrStranger) && bad != text {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if got, err := k.Enter(ctx, text); err != nil || got.ID != made.ID {
		t.Errorf("%+v %v", got, err)
	}
	now = now.Add(30 * time.Second)
	if _, err := k.Enter(ctx, text); err != nil {
		t.Error(err)
	}
	if all, err := k.All(ctx); err != nil || len(all) != 1 || !all[0].Used.Equal(now.Add(-30*time.Second)) {
		t.Errorf("%+v %v", all, err)
	}
	now = now.Add(time.Hour)
	if _, err := k.Enter(ctx, text); !errors.Is(err, access.ErrStranger) {
		t.Errorf("when it is over: %v", err)
	}
	if live, err := k.Live(ctx); err != nil || len(live) != 0 {
		t.Errorf("%+v %v", live, err)
	}
	var wrong *access.Wrong
	for _, err := range []error{
		func() error { _, _, err := k.Add(ctx, "", access.Scopes, 0); return err }(),
		func() error { _, _, err := k.Add(ctx, "x", nil, 0); return err }(),
		func() error { _, _, err := k.Add(ctx, "x", []access.Scope{"all"}, 0); return err }(),
		func() error { _, _, err := k.Add(ctx, "x", access.Scopes, time.Second); return err }(),
	} {
		if !errors.As(err, &wrong) {
			t.Errorf("%v", err)
		}
	}
	text, made, err = k.Add(ctx, "nightly", access.Scopes, 0) // the name is free again
	if err != nil || !made.Until.Equal(now.Add(access.TokenLife)) {
		t.Fatalf("%+v %v", made, err)
	}
	if _, err := k.Revoke(ctx, made.ID); err != nil {
		t.Error(err)
	}
	if _, err := k.Revoke(ctx, "nightly"); !errors.Is(err, access.ErrNobody) {
		t.Errorf("twice: %v", err)
	}
	if _, err := k.Enter(ctx, text); !errors.Is(err, access.ErrStranger) {
		t.Errorf("when it was revoked: %v", err)
	}
}
