package access_test

import (
	"context"
	"errors"
	"net/netip"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/access"
	"underlamp/store"
	"underlamp/store/sqlite"
)

// A world is a door with a clock that the test turns.
type world struct {
	*testing.T
	*access.Door
	s   store.Store
	now atomic.Int64
}

func newWorld(t *testing.T) *world {
	s, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	w := &world{T: t, s: s}
	w.now.Store(time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC).UnixMicro())
	w.Door = access.New(s, func() time.Time { return store.Time(w.now.Load()) })
	return w
}

func (w *world) pass(d time.Duration) { w.now.Add(d.Microseconds()) }

func (w *world) invite(person string, role access.Role) string {
	w.Helper()
	i, err := w.Invite(context.Background(), person, role)
	if err != nil {
		w.Fatal(err)
	}
	return i.Code
}

var phone = netip.MustParseAddr("192.168.1.20")

func (w *world) in(person string, role access.Role) string {
	w.Helper()
	token, v, err := w.Redeem(context.Background(), w.invite(person, role), phone, "phone")
	if err != nil || v.Role != role || v.Person != person || v.Here {
		w.Fatalf("%+v, %v", v, err)
	}
	return token
}

// enters holds a token to what it lets in, and gives the newer one.
func (w *world) enters(token string, want bool) string {
	w.Helper()
	v, next, err := w.Enter(context.Background(), token)
	if want && err != nil || !want && !errors.Is(err, access.ErrStranger) || want == (v == access.Visitor{}) {
		w.Errorf("%+v, %v; want %v", v, err, want)
	}
	return next
}

// A code lets one browser in, once, within ten minutes, however it is typed.
func TestCodes(t *testing.T) {
	w, ctx := newWorld(t), context.Background()
	code := w.invite("Ida", access.Helper)
	if len(code) != 11 || code[5] != '-' {
		t.Errorf("code %q", code)
	}
	token, v, err := w.Redeem(ctx, " "+strings.ToLower(strings.ReplaceAll(code, "-", " ")), phone, "")
	if err != nil || v.Person != "Ida" || v.Role != access.Helper || len(token) != 43 {
		t.Fatalf("%q, %+v, %v", token, v, err)
	}
	if _, _, err := w.Redeem(ctx, code, phone, ""); !errors.Is(err, access.ErrCode) {
		t.Errorf("used twice: %v", err)
	}
	late := w.invite("Ida", access.Viewer)
	w.pass(access.CodeLife)
	if _, _, err := w.Redeem(ctx, late, phone, ""); !errors.Is(err, access.ErrCode) {
		t.Errorf("too late: %v", err)
	}
	for _, bad := range []string{"", "\n", strings.Repeat("x", 1000), "Ida\x00"} {
		if _, err := w.Invite(ctx, bad, access.Owner); err == nil {
			t.Errorf("%q was invited", bad)
		}
	}
	if _, err := w.Invite(ctx, "Ida", "king"); err == nil {
		t.Error("a king was invited")
	}
	for range 20 {
		w.invite("Jon", access.Viewer)
	}
	if _, err := w.Invite(ctx, "Jon", access.Viewer); err == nil {
		t.Error("the 21st open code was made")
	}
}

// Guessing is bounded for an address and in all; time heals it.
func TestGuessing(t *testing.T) {
	w, ctx := newWorld(t), context.Background()
	try := func(from netip.Addr) error {
		_, _, err := w.Redeem(ctx, "00000-00000", from, "")
		return err
	}
	var many *access.TooMany
	for i := range 6 {
		if err := try(phone); errors.As(err, &many) != (i == 5) {
			t.Fatalf("try %d: %v", i, err)
		}
	}
	if many.Wait <= 0 || many.Wait > 2*time.Minute {
		t.Errorf("wait %v", many.Wait)
	}
	good := w.invite("Ida", access.Owner)
	if _, _, err := w.Redeem(ctx, good, phone, ""); !errors.As(err, &many) {
		t.Errorf("the right code got past: %v", err)
	}
	// From one /64 of IPv6 all is one address.
	six := netip.MustParseAddr("fd00::1")
	for i := range 6 {
		six = six.Next()
		if err := try(six); errors.As(err, &many) != (i == 5) {
			t.Fatalf("IPv6 try %d: %v", i, err)
		}
	}
	for i, from := 0, netip.MustParseAddr("192.168.1.100"); ; i++ {
		from = from.Next()
		if err := try(from); errors.As(err, &many) {
			if i != 10 { // 20 in all: five and five were used before
				t.Errorf("%d more", i)
			}
			break
		}
	}
	w.pass(2 * time.Minute)
	if _, _, err := w.Redeem(ctx, good, phone, ""); err != nil {
		t.Errorf("after a while: %v", err)
	}
}

// Of many browsers that use a code at once one gets in.
func TestOneCodeForMany(t *testing.T) {
	w := newWorld(t)
	code := w.invite("Ida", access.Owner)
	var in atomic.Int64
	var all sync.WaitGroup
	for i := range 16 {
		all.Go(func() {
			from := netip.AddrFrom4([4]byte{10, 0, 0, byte(i)})
			if _, _, err := w.Redeem(context.Background(), code, from, ""); err == nil {
				in.Add(1)
			} else if !errors.Is(err, access.ErrCode) {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if in.Load() != 1 {
		t.Errorf("%d got in", in.Load())
	}
}

// A token is renewed after a day; the one before stays good until the newest is left behind.
func TestTokensAreRenewed(t *testing.T) {
	w := newWorld(t)
	a := w.in("Ida", access.Viewer)
	if next := w.enters(a, true); next != "" {
		t.Error("renewed at once")
	}
	w.pass(access.RenewAfter)
	b := w.enters(a, true)
	if b == "" || w.enters(a, true) != "" || w.enters(b, true) != "" {
		t.Error("two that ask at once, or the newest, were renewed")
	}
	// The answer with b was lost: a minute later a gets c, and b is gone.
	w.pass(time.Minute)
	c := w.enters(a, true)
	if c == "" {
		t.Fatal("no other token after one was lost")
	}
	w.enters(b, false)
	w.enters(c, true)
	w.pass(access.RenewAfter)
	d := w.enters(c, true)
	w.enters(a, false)
	w.enters(c, true)
	w.enters(d, true)
	for _, bad := range []string{"", "x", d[:42], d + "A", d[:42] + "\n", strings.Repeat("A", 43), strings.Repeat("A", 1e6)} {
		w.enters(bad, false)
	}
}

// A session ends when it was not used for 60 days, and 400 days after it began.
func TestSessionsEnd(t *testing.T) {
	w := newWorld(t)
	idle, used := w.in("Ida", access.Viewer), w.in("Jon", access.Viewer)
	days := 0
	for ; days < 1000; days += 20 {
		v, next, err := w.Enter(context.Background(), used)
		if err != nil {
			break
		}
		if v.Person != "Jon" {
			t.Fatalf("%+v", v)
		}
		if next != "" {
			used = next
		}
		w.pass(20 * 24 * time.Hour)
		if days == 60 {
			w.enters(idle, false)
		}
	}
	if days != 400 {
		t.Errorf("the session ended after %d days", days)
	}
}

// A revoked session is refused at once, and so is all of a person who was removed.
func TestRevoked(t *testing.T) {
	w, ctx := newWorld(t), context.Background()
	a, b, jon := w.in("Ida", access.Owner), w.in("Ida", access.Viewer), w.in("Jon", access.Helper)
	v, _, err := w.Enter(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	still := func(want bool) {
		t.Helper()
		if got, err := w.Still(ctx, v.Session); got != want || err != nil {
			t.Errorf("still %v, %v", got, err)
		}
	}
	still(true)
	if err := w.End(ctx, v.Session); err != nil {
		t.Fatal(err)
	}
	still(false)
	w.enters(a, false)
	w.enters(b, true)
	code := w.invite("Ida", access.Owner)
	if n, err := w.Remove(ctx, " Ida "); n != 2 || err != nil {
		t.Errorf("%d, %v", n, err)
	}
	w.enters(b, false)
	w.enters(jon, true)
	if _, _, err := w.Redeem(ctx, code, phone, ""); !errors.Is(err, access.ErrCode) {
		t.Errorf("an invite of a person who was removed: %v", err)
	}
	if _, err := w.Remove(ctx, "Ida"); !errors.Is(err, access.ErrNobody) {
		t.Errorf("removed twice: %v", err)
	}
	if err := w.End(ctx, "nobody"); !errors.Is(err, access.ErrNobody) {
		t.Errorf("ended nobody: %v", err)
	}
	list, open, err := w.Sessions(ctx)
	if err != nil || len(list) != 1 || list[0].Person != "Jon" || len(open) != 0 {
		t.Errorf("%+v, %+v, %v", list, open, err)
	}
}

// A session used, renewed, listed and revoked by many at once stays one; run with -race.
func TestTogether(t *testing.T) {
	w, ctx := newWorld(t), context.Background()
	token := w.in("Ida", access.Owner)
	v, _, err := w.Enter(ctx, token)
	if err != nil {
		t.Fatal(err)
	}
	w.pass(access.RenewAfter)
	var newer atomic.Int64
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for range 10 {
				if _, next, err := w.Enter(ctx, token); err != nil {
					t.Error(err)
				} else if next != "" {
					newer.Add(1)
				}
				if _, _, err := w.Sessions(ctx); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if newer.Load() != 1 {
		t.Errorf("%d newer tokens were given at once", newer.Load())
	}
	for range 4 {
		all.Go(func() { w.End(ctx, v.Session) })
		all.Go(func() { w.Enter(ctx, token) })
	}
	all.Wait()
	w.enters(token, false)
}

// What nobody said is for nobody.
func TestWho(t *testing.T) {
	owner, helper, viewer, stranger := access.Visitor{Role: access.Owner}, access.Visitor{Role: access.Helper}, access.Visitor{Role: access.Viewer}, access.From(context.Background())
	for _, c := range []struct {
		who  access.Who
		want [4]bool
	}{
		{0, [4]bool{}}, {access.Owners, [4]bool{true}}, {access.Readers, [4]bool{true, false, true}}, {access.Walkers, [4]bool{true, true}},
		{access.Members, [4]bool{true, true, true}}, {access.Everyone, [4]bool{true, true, true, true}}, {access.Strangers, [4]bool{3: true}},
	} {
		if got := [4]bool{c.who.Has(owner), c.who.Has(helper), c.who.Has(viewer), c.who.Has(stranger)}; got != c.want {
			t.Errorf("%s: %v, want %v", c.who, got, c.want)
		}
	}
	if v := access.From(access.With(context.Background(), access.Local())); !v.Here || v.Role != access.Owner {
		t.Errorf("%+v", v)
	}
	if (access.Owners).Has(access.Visitor{Role: "king"}) || access.Members.Has(access.Visitor{Role: "king"}) {
		t.Error("a role that is not known may something")
	}
}
