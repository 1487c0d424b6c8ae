package access

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"underlamp/store"
)

// A Scope is something that a program may do with a token.
type Scope string

// The scopes.
const (
	ScopeRead   Scope = "read"   // what a viewer sees
	ScopePlan   Scope = "plan"   // begins long computations, and stops them
	ScopeWrite  Scope = "write"  // changes benches, feeds, trials and sensors
	ScopeRounds Scope = "rounds" // enters what was seen, and sees what a helper sees
	ScopeManage Scope = "manage" // people, tokens, settings, copies of the store
)

// Scopes are all.
var Scopes = []Scope{ScopeRead, ScopePlan, ScopeWrite, ScopeRounds, ScopeManage}

// Says tells what a program may with a scope.
func (s Scope) Says() string {
	switch s {
	case ScopeRead:
		return "reads what a viewer sees"
	case ScopePlan:
		return "begins long computations and stops them"
	case ScopeWrite:
		return "changes benches, feeds, trials and sensors"
	case ScopeRounds:
		return "enters what was seen, and sees what a helper sees"
	case ScopeManage:
		return "people, tokens, settings, copies of the store"
	}
	return "may nothing"
}

// ParseScopes reads scopes parted by commas or spaces. None is a mistake.
func ParseScopes(text string) ([]Scope, error) {
	var out []Scope
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' }) {
		if !slices.Contains(Scopes, Scope(w)) {
			return nil, &Wrong{fmt.Sprintf("%.20q is no scope; there are %s", w, scopeWords())}
		}
		if !slices.Contains(out, Scope(w)) {
			out = append(out, Scope(w))
		}
	}
	if len(out) == 0 {
		return nil, &Wrong{"a token needs a scope: " + scopeWords()}
	}
	slices.SortFunc(out, func(a, b Scope) int { return slices.Index(Scopes, a) - slices.Index(Scopes, b) })
	return out, nil
}

func scopeWords() string {
	var all []string
	for _, s := range Scopes {
		all = append(all, fmt.Sprintf("%s (%s)", s, s.Says()))
	}
	return strings.Join(all, ", ")
}

// How long a token lasts.
const (
	TokenLife     = 365 * 24 * time.Hour     // if nobody says
	LongTokenLife = 3 * 365 * 24 * time.Hour // at most
)

// mostTokens bounds how many tokens live at once.
const mostTokens = 100

// tokenMark begins each token of a program, so that people and scanners of files know it.
const tokenMark = "ult_"

// A Token is what a program shows.
type Token struct {
	ID, Name         string
	Scopes           []Scope
	Made, Until      time.Time
	Used             time.Time // to the minute or so; zero: never
	Revoked, Expired bool
}

// May says that a token has one of the scopes.
func (t Token) May(any ...Scope) bool {
	return slices.ContainsFunc(any, func(s Scope) bool { return slices.Contains(t.Scopes, s) })
}

// Tokens are those of programs. It is safe for many goroutines.
type Tokens struct {
	keep store.Tokens
	now  func() time.Time
}

// NewTokens keeps tokens in a store; now is the clock, nil for that of this machine.
func NewTokens(keep store.Tokens, now func() time.Time) *Tokens {
	if now == nil {
		now = time.Now
	}
	return &Tokens{keep, now}
}

// Add makes a token and returns its text, which is kept nowhere. Life 0 is [TokenLife].
func (t *Tokens) Add(ctx context.Context, called string, scopes []Scope, life time.Duration) (string, Token, error) {
	called, err := name(called, "the token")
	if err != nil {
		return "", Token{}, err
	}
	words := make([]string, len(scopes))
	for i, s := range scopes {
		words[i] = string(s)
	}
	if scopes, err = ParseScopes(strings.Join(words, " ")); err != nil {
		return "", Token{}, err
	}
	if life == 0 {
		life = TokenLife
	}
	if life < time.Minute || life > LongTokenLife {
		return "", Token{}, &Wrong{"a token lasts for a minute to three years"}
	}
	live, err := t.Live(ctx)
	if err != nil {
		return "", Token{}, err
	}
	if len(live) >= mostTokens {
		return "", Token{}, &Wrong{fmt.Sprintf("%d tokens may be used already; revoke some", len(live))}
	}
	if slices.ContainsFunc(live, func(x Token) bool { return x.Name == called }) {
		return "", Token{}, &Wrong{fmt.Sprintf("there is a token called %q already; give the new one another name, or revoke it first", called)}
	}
	var b [tokenBytes]byte
	rand.Read(b[:]) // never fails
	text := tokenMark + base64.RawURLEncoding.EncodeToString(b[:])
	now := t.now()
	kept := store.Token{ID: newID(), Hash: sha256.Sum256([]byte(text)), Name: called, Scopes: joinScopes(scopes), Made: store.At(now), Expires: store.At(now.Add(life))}
	if err := t.keep.AddToken(ctx, kept); err != nil {
		return "", Token{}, err
	}
	return text, t.token(kept), nil
}

func joinScopes(scopes []Scope) string {
	words := make([]string, len(scopes))
	for i, s := range scopes {
		words[i] = string(s)
	}
	return strings.Join(words, " ")
}

func (t *Tokens) token(k store.Token) Token {
	out := Token{ID: k.ID, Name: k.Name, Made: store.Time(k.Made), Until: store.Time(k.Expires), Revoked: k.Revoked != 0, Expired: store.At(t.now()) >= k.Expires}
	if k.Used != 0 {
		out.Used = store.Time(k.Used)
	}
	for w := range strings.FieldsSeq(k.Scopes) { // a scope of a later version may nothing here
		if slices.Contains(Scopes, Scope(w)) {
			out.Scopes = append(out.Scopes, Scope(w))
		}
	}
	return out
}

// Enter tells whose token a text is. One that lets nobody in gives [ErrStranger].
func (t *Tokens) Enter(ctx context.Context, text string) (Token, error) {
	if !strings.HasPrefix(text, tokenMark) || len(text) != len(tokenMark)+base64.RawURLEncoding.EncodedLen(tokenBytes) {
		return Token{}, ErrStranger
	}
	k, err := t.keep.TokenBy(ctx, sha256.Sum256([]byte(text)))
	if errors.Is(err, store.ErrNotFound) {
		return Token{}, ErrStranger
	}
	if err != nil {
		return Token{}, err
	}
	out := t.token(k)
	if out.Revoked || out.Expired {
		return Token{}, ErrStranger
	}
	if now := t.now(); now.Sub(store.Time(k.Used)) >= seenEvery {
		if err := t.keep.UseToken(ctx, k.ID, store.At(now)); err != nil {
			return Token{}, err
		}
	}
	return out, nil
}

// All are all tokens, the newest first, with those that have ended.
func (t *Tokens) All(ctx context.Context) ([]Token, error) {
	all, err := t.keep.Tokens(ctx)
	if err != nil {
		return nil, err
	}
	var out []Token
	for _, k := range slices.Backward(all) {
		out = append(out, t.token(k))
	}
	return out, nil
}

// Live are those that may be used, the newest first.
func (t *Tokens) Live(ctx context.Context) ([]Token, error) {
	all, err := t.All(ctx)
	return slices.DeleteFunc(all, func(x Token) bool { return x.Revoked || x.Expired }), err
}

// Revoke ends a token, named by its id or by its name; [ErrNobody] if none lives.
func (t *Tokens) Revoke(ctx context.Context, which string) (Token, error) {
	live, err := t.Live(ctx)
	if err != nil {
		return Token{}, err
	}
	i := slices.IndexFunc(live, func(x Token) bool { return x.ID == which })
	if i < 0 {
		i = slices.IndexFunc(live, func(x Token) bool { return x.Name == which })
	}
	if i < 0 {
		return Token{}, ErrNobody
	}
	err = t.keep.EndToken(ctx, live[i].ID, store.At(t.now()))
	if errors.Is(err, store.ErrNotFound) {
		err = ErrNobody
	}
	return live[i], err
}
