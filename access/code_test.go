package access

import (
	"net/netip"
	"strings"
	"testing"
	"time"
)

// Codes and tokens are what they are read as, and differ.
func TestCodesByChance(t *testing.T) {
	seen := map[string]bool{}
	var count [32]int
	for range 3200 {
		c := newCode()
		got, ok := parseCode(showCode(c))
		if !ok || got != c || seen[c] {
			t.Fatalf("%q, %q", c, got)
		}
		seen[c] = true
		for _, l := range c {
			count[strings.IndexRune(letters, l)]++
		}
		token, hash := newToken()
		if h, ok := parseToken(token); !ok || h != hash {
			t.Fatalf("token %q", token)
		}
	}
	for i, n := range count { // 1000 of each expected, standard deviation 31
		if n < 800 || n > 1200 {
			t.Errorf("%c came %d times of 32000", letters[i], n)
		}
	}
	if got, ok := parseCode("oil0u-oil01"); ok {
		t.Errorf("a U was read: %q", got)
	}
	if got, ok := parseCode("oIl0–1\u00a0OiL01"); !ok || got != "0110101101" {
		t.Errorf("%q", got)
	}
}

// Only as many addresses are remembered as fit.
func TestLimitForgets(t *testing.T) {
	l, now := NewLimit(1, time.Hour), time.Unix(0, 0)
	from := netip.MustParseAddr("10.0.0.0")
	for range 3 * mostKeys {
		from = from.Next()
		now = now.Add(time.Millisecond)
		if _, ok := l.Take(from, now); !ok {
			t.Fatal("a new address was refused")
		}
	}
	if len(l.known) > mostKeys {
		t.Errorf("%d are remembered", len(l.known))
	}
	if _, ok := l.Take(from, now); ok {
		t.Error("the newest was forgotten")
	}
	if Source(netip.MustParseAddr("::ffff:10.0.0.7")) != netip.MustParseAddr("10.0.0.7") || Source(netip.MustParseAddr("fe80::1%eth0")) != netip.MustParseAddr("fe80::") {
		t.Error("addresses are not brought to one form")
	}
}

func FuzzParseCode(f *testing.F) {
	for _, s := range []string{"", "7KQ2M-9XD4T", "oil", strings.Repeat("–", 30), "\xff\xfe"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, ok := parseCode(s)
		if !ok {
			return
		}
		if len(c) != codeLetters || strings.Trim(c, letters) != "" {
			t.Fatalf("%q read as %q", s, c)
		}
		if again, ok := parseCode(showCode(c)); !ok || again != c {
			t.Fatalf("%q shown and read is %q", c, again)
		}
	})
}

func FuzzParseToken(f *testing.F) {
	token, _ := newToken()
	for _, s := range []string{"", token, token[:42] + "_", token + "=", strings.Repeat("\n", 43)} {
		f.Add(s)
	}
	seen := map[[32]byte]string{}
	f.Fuzz(func(t *testing.T, s string) {
		h, ok := parseToken(s)
		if !ok {
			return
		}
		if other, there := seen[h]; there && other != s {
			t.Fatalf("%q and %q are one token", s, other)
		}
		seen[h] = s
	})
}
