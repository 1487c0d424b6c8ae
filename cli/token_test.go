package cli

import (
	"bytes"
	"context"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"underlamp/store"
	"underlamp/store/sqlite"
)

// A token is shown once, is kept as a hash alone, and ends.
func TestTokens(t *testing.T) {
	run := func(t *testing.T, args ...string) (int, string, string) {
		var out, errs bytes.Buffer
		w := World{Out: &out, Err: &errs, OpenStore: func(ctx context.Context, address string) (store.Store, error) { return sqlite.Open(ctx, address) }}
		return Run(t.Context(), w, args), out.String(), errs.String()
	}
	at := filepath.Join(t.TempDir(), "s.db")
	code, out, errs := run(t, "token", "add", "nightly", "--may", "plan,read", "--days", "90", "--store", at)
	if code != 0 || !regexp.MustCompile(`^ult_[\w-]{43}\n$`).MatchString(out) || !strings.Contains(errs, "it may read, plan") {
		t.Fatalf("%d %q %q", code, out, errs)
	}
	for _, c := range []struct {
		want int
		says string
		args []string
	}{
		{2, "is a token called", []string{"add", "nightly"}},
		{2, "is no scope", []string{"add", "x", "--may", "all"}},
		{2, "three years", []string{"add", "x", "--days", "2000"}},
		{2, "is no command of underlamp token", []string{"nothing"}},
		{0, "never", []string{"list"}},
		{0, "lets nobody in", []string{"revoke", "nightly"}},
		{2, "may be used", []string{"revoke", "nightly"}},
		{0, "revoked", []string{"list"}},
	} {
		code, all, errs := run(t, append(append([]string{"token"}, c.args...), "--store", at)...)
		if code != c.want || !strings.Contains(all+errs, c.says) {
			t.Errorf("%v: %d\n%s%s", c.args, code, all, errs)
		}
		if strings.Contains(all+errs, strings.TrimSpace(out)) {
			t.Errorf("%v shows the token", c.args)
		}
	}
}
