package store_test

import (
	"testing"

	"underlamp/store"
)

// Tokens are long and differ, and are found by their hash.
func TestTokens(t *testing.T) {
	seen := map[string]bool{}
	for range 1000 {
		token, hash := store.NewToken()
		if len(token) < 30 || seen[token] || hash != store.TokenHash(token) || hash == store.TokenHash(token+"x") {
			t.Fatalf("%q", token)
		}
		seen[token] = true
	}
}

func TestCounting(t *testing.T) {
	all := []store.Observation{{ID: "a"}, {ID: "b"}, {ID: "c", Corrects: "a"}, {ID: "d", Corrects: "c"}, {ID: "e", Corrects: "b", Struck: true}}
	if got := store.Counting(all); len(got) != 1 || got[0].ID != "d" {
		t.Errorf("%+v", got)
	}
}
