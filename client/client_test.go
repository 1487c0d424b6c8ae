package client_test

import (
	"context"
	"errors"
	"fmt"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"underlamp/access"
	"underlamp/app/kept"
	"underlamp/client"
	"underlamp/demo"
	"underlamp/safefolder"
	"underlamp/store/sqlite"
	"underlamp/web"
	"underlamp/wire"
)

// serve is a server of the demo, and a token that may read, plan and write.
func serve(dir string) (address, token string, end func(), err error) {
	ctx := context.Background()
	folder := filepath.Join(dir, "benches")
	if err := os.CopyFS(folder, demo.Folder()); err != nil {
		return "", "", nil, err
	}
	f, err := safefolder.Open(folder)
	if err != nil {
		return "", "", nil, err
	}
	s, err := sqlite.Open(ctx, filepath.Join(dir, "store.db"))
	if err != nil {
		return "", "", nil, err
	}
	token, _, err = access.NewTokens(s, nil).Add(ctx, "example", []access.Scope{access.ScopeRead, access.ScopePlan, access.ScopeWrite}, time.Hour)
	if err != nil {
		return "", "", nil, err
	}
	site := web.New(web.Options{Folder: os.DirFS(folder), Hosts: []string{"127.0.0.1"}, Keep: s, Desk: kept.NewDesk(s, f, time.Now), Zone: time.UTC, Trials: f})
	server := httptest.NewServer(site.Handler())
	return server.URL, token, func() { server.Close(); site.Close(); s.Close() }, nil
}

func Example() {
	dir, err := os.MkdirTemp("", "underlamp-client-*")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	address, token, end, err := serve(dir) // yours is that of underlamp serve
	if err != nil {
		log.Fatal(err)
	}
	defer end()

	ctx := context.Background()
	c, err := client.New(address, client.Options{Token: token})
	if err != nil {
		log.Fatal(err)
	}
	for b, err := range c.ListBenches(ctx, nil) {
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(b.ID, b.Plants, "plants")
	}
	var now client.Meta
	if _, err := c.GetBench(ctx, "tier-1-top", client.Into(&now)); err != nil {
		log.Fatal(err)
	}
	b, err := c.PatchBench(ctx, "tier-1-top", wire.BenchPatch{Hours: new(14.0), Why: "cheaper nights"}, client.IfMatch(now.ETag))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(b.Setting.Hours, "h of light")
	_, err = c.PatchBench(ctx, "tier-1-top", wire.BenchPatch{Hours: new(12.0)}, client.IfMatch(now.ETag))
	fmt.Println(errors.Is(err, client.Kind("changed")), err)
	// Output:
	// tier-1-top 18 plants
	// tier-2-middle 18 plants
	// tier-3-bottom 12 plants
	// trial-shelf 40 plants
	// 14 h of light
	// true It has been changed since it was read. Nothing was written. Read it again, make the change in what is there now, and send it with the ETag that comes with it.
}

// Long work is begun once, awaited and watched; what has not changed is told so; a bench that is
// made twice with one key is one.
func TestAgainstAServer(t *testing.T) {
	address, token, end, err := serve(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer end()
	ctx := t.Context()
	c, err := client.New(address+"/", client.Options{Token: token})
	if err != nil {
		t.Fatal(err)
	}
	task, err := c.BeginDoubts(ctx, "tier-3-bottom", nil)
	if err != nil {
		t.Fatal(err)
	}
	last := wire.Task{}
	for x, err := range c.WatchTask(ctx, task.ID) {
		if err != nil {
			t.Fatal(err)
		}
		last = x
	}
	if task, err = c.Await(ctx, task); err != nil || last.State != "done" {
		t.Fatal(err, last.State)
	}
	d, err := client.Result[wire.Doubts](task)
	if err != nil || len(d.Matters) < 5 || d.Mass.Mid < 20 {
		t.Errorf("%+v %v", d, err)
	}
	for range c.WatchTask(ctx, "none") {
	}
	var m client.Meta
	if _, err := c.GetCrop(ctx, "romaine", client.Into(&m)); err != nil {
		t.Fatal(err)
	}
	if _, err := c.GetCrop(ctx, "romaine", client.IfNoneMatch(m.ETag)); !errors.Is(err, client.ErrNotModified) {
		t.Error(err)
	}
	if _, err := c.GetCrop(ctx, "gorse/x"); !errors.Is(err, client.Kind("not-found")) {
		t.Error(err)
	}
	var ids []string
	for range 2 {
		b, err := c.CreateBench(ctx, wire.NewBench{Name: "Shelf"}, client.Key("once"), client.Into(&m))
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, b.ID)
	}
	if ids[0] != ids[1] || !m.Replayed || !strings.HasSuffix(m.Location, "/benches/shelf") {
		t.Errorf("%v %+v", ids, m)
	}
	csv, err := c.Raw(ctx, "GET", "/benches/tier-1-top/light", nil, nil, client.Accept("text/csv"))
	if err != nil || !strings.HasPrefix(string(csv), "plant,") {
		t.Errorf("%.100s %v", csv, err)
	}
	n := 0
	list := c.ListBenches(ctx, &client.ListBenchesParams{Limit: 1})
	for range 2 { // an iterator can be walked twice
		for _, err := range list {
			if err != nil {
				t.Fatal(err)
			}
			n++
		}
	}
	if n != 2*5 { // four of the demo, and the one that was made above
		t.Errorf("%d benches in two walks", n)
	}
	other, err := client.New(address, client.Options{Token: "ult_wrong"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := other.GetServer(ctx); !errors.Is(err, client.Kind("bad-token")) {
		t.Error(err)
	}
}

// A request is sent again only where that does no harm, with one key; a redirect gets no token.
func TestSendsAgain(t *testing.T) {
	var asked atomic.Int64
	var keys []string
	status := http.StatusTooManyRequests
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n := asked.Add(1)
		keys = append(keys, r.Header.Get("Idempotency-Key"))
		switch {
		case strings.HasSuffix(r.URL.Path, "/crops"):
			w.Header().Set("Location", "http://evil.example/")
			w.WriteHeader(http.StatusFound)
		case n < 3:
			w.WriteHeader(status)
		default:
			w.Write([]byte(`{"id":"x"}`))
		}
	}))
	defer server.Close()
	c, err := client.New(server.URL, client.Options{Pause: time.Millisecond, Token: "t"})
	if err != nil {
		t.Fatal(err)
	}
	reset := func() { asked.Store(0); keys = nil }
	if b, err := c.CreateBench(t.Context(), wire.NewBench{Name: "x"}); err != nil || b.ID != "x" || asked.Load() != 3 || len(keys[0]) < 20 || len(slices.Compact(keys)) != 1 {
		t.Errorf("%v, %d tries, keys %v", err, asked.Load(), keys)
	}
	reset()
	if _, err := c.Aim(t.Context(), "x", nil, wire.AimAsk{PPFD: 1}); err == nil || asked.Load() != 1 {
		t.Errorf("what has no key was sent %d times, %v", asked.Load(), err)
	}
	reset()
	if _, err := c.PatchBench(t.Context(), "x", wire.BenchPatch{}, client.IfMatch("x")); err == nil || asked.Load() != 1 {
		t.Errorf("a change was sent %d times, %v", asked.Load(), err)
	}
	reset()
	var p *client.Problem
	if _, err := c.ListCrops(t.Context()); !errors.As(err, &p) || p.Status != http.StatusFound {
		t.Errorf("a redirect was followed: %v", err)
	}
	reset()
	status = http.StatusInternalServerError
	if _, err := c.GetServer(t.Context()); err == nil || asked.Load() != 1 {
		t.Errorf("a fault was asked for %d times", asked.Load())
	}
	for _, bad := range []string{"", "server", "ftp://x", "http://user:word@x", "http://x/?q=1"} {
		if _, err := client.New(bad, client.Options{}); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
}
