package access

import (
	"cmp"
	"context"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"underlamp/store"
)

// How long things last.
const (
	CodeLife   = 10 * time.Minute
	IdleLife   = 60 * 24 * time.Hour  // of a session that is not used
	LongLife   = 400 * 24 * time.Hour // of any session; browsers keep no cookie longer
	RenewAfter = 24 * time.Hour
	renewPause = time.Minute // after which an answer with a newer token counts as lost
	seenEvery  = time.Minute
)

// mostOpen bounds how many invites are open at once.
const mostOpen = 20

// ErrCode is wrapped by what is wrong with a code.
var ErrCode = errCode

// ErrStranger says that a token lets nobody in.
var ErrStranger = errors.New("nobody is let in with this token")

// Wrong is what is wrong with what a person has asked for.
type Wrong struct{ Text string }

// Error is the sentence.
func (e *Wrong) Error() string { return e.Text }

// TooMany says that too many codes were tried.
type TooMany struct{ Wait time.Duration }

// Error says how long to wait.
func (e *TooMany) Error() string {
	return fmt.Sprintf("too many codes were tried; wait for %s", waitText(e.Wait))
}

func waitText(d time.Duration) string {
	if d <= time.Minute {
		return "a minute"
	}
	return fmt.Sprintf("%d minutes", int((d+time.Minute-1)/time.Minute))
}

// A Door lets people in. It is safe for many goroutines.
type Door struct {
	keep store.People
	now  func() time.Time
	each *Limit // codes tried from an address
	all  *Limit // codes tried in all
}

// New is the door of a store; now is the clock, nil for that of this machine.
func New(keep store.People, now func() time.Time) *Door {
	if now == nil {
		now = time.Now
	}
	return &Door{keep: keep, now: now, each: NewLimit(5, 2*time.Minute), all: NewLimit(20, 30*time.Second)}
}

// An Invite is one that was made now; its code is shown once.
type Invite struct {
	Code   string
	Person string
	Role   Role
	Until  time.Time
}

// Invite makes a code for a person.
func (d *Door) Invite(ctx context.Context, person string, role Role) (Invite, error) {
	person, err := name(person, "the person")
	if err != nil {
		return Invite{}, err
	}
	if _, err := ParseRole(string(role)); err != nil {
		return Invite{}, err
	}
	now := d.now()
	open, err := d.keep.Invites(ctx, store.At(now))
	if err != nil {
		return Invite{}, err
	}
	if len(open) >= mostOpen {
		return Invite{}, &Wrong{fmt.Sprintf("%d codes can still be used; wait until some are over (ten minutes), or remove the people", len(open))}
	}
	code := newCode()
	until := now.Add(CodeLife)
	if err := d.keep.PutInvite(ctx, store.Invite{ID: newID(), Hash: codeHash(code), Person: person, Role: string(role), Made: store.At(now), Expires: store.At(until)}); err != nil {
		return Invite{}, err
	}
	return Invite{Code: showCode(code), Person: person, Role: role, Until: until}, nil
}

// maxName is the most letters of a name.
const maxName = 40

// name is a name without the spaces around it.
func name(text, of string) (string, error) {
	text = strings.TrimSpace(text)
	if text == "" || !utf8.ValidString(text) || utf8.RuneCountInString(text) > maxName || strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return "", &Wrong{fmt.Sprintf("%s needs a name of 1 to %d letters", of, maxName)}
	}
	return text, nil
}

// Redeem lets a browser in with a code, and gives its token. Each address may try five codes
// at once and one more every two minutes; all together 20, and one every 30 seconds. What is
// wrong with a code is not told apart.
func (d *Door) Redeem(ctx context.Context, code string, from netip.Addr, device string) (token string, v Visitor, err error) {
	now := d.now()
	if wait, ok := d.each.Take(from, now); !ok {
		return "", Visitor{}, &TooMany{wait}
	}
	if wait, ok := d.all.Take(netip.Addr{}, now); !ok {
		return "", Visitor{}, &TooMany{wait}
	}
	plain, ok := parseCode(code)
	if !ok {
		return "", Visitor{}, errCode
	}
	if strings.TrimSpace(device) == "" {
		device = "a browser"
	}
	if device, err = name(device, "the device"); err != nil {
		return "", Visitor{}, err
	}
	open, err := d.keep.Invites(ctx, store.At(now))
	if err != nil {
		return "", Visitor{}, err
	}
	hash := codeHash(plain)
	var invite *store.Invite
	for i := range open { // all are compared, so that time tells nothing
		if subtle.ConstantTimeCompare(open[i].Hash[:], hash[:]) == 1 {
			invite = &open[i]
		}
	}
	if invite == nil {
		return "", Visitor{}, errCode
	}
	token, tokenHash := newToken()
	s := store.Session{ID: newID(), Person: invite.Person, Role: invite.Role, Device: device, Made: store.At(now), Seen: store.At(now), Expires: store.At(now.Add(IdleLife)), Hash: tokenHash, Issued: store.At(now)}
	err = d.keep.Redeem(ctx, invite.ID, s)
	if errors.Is(err, store.ErrNotFound) { // another browser was faster
		return "", Visitor{}, errCode
	}
	if err != nil {
		return "", Visitor{}, err
	}
	return token, visitor(s), nil
}

func visitor(s store.Session) Visitor {
	return Visitor{Role: Role(s.Role), Person: s.Person, Session: s.ID}
}

// Enter tells whose token it is, and gives a newer one where it is time; else next is empty.
// A token that lets nobody in gives [ErrStranger].
func (d *Door) Enter(ctx context.Context, token string) (v Visitor, next string, err error) {
	hash, ok := parseToken(token)
	if !ok {
		return Visitor{}, "", ErrStranger
	}
	s, err := d.keep.SessionBy(ctx, hash)
	if errors.Is(err, store.ErrNotFound) {
		return Visitor{}, "", ErrStranger
	}
	if err != nil {
		return Visitor{}, "", err
	}
	now := d.now()
	if !lives(s, now) {
		return Visitor{}, "", ErrStranger
	}
	age := now.Sub(store.Time(s.Issued))
	if s.Hash == hash && age >= RenewAfter || s.Hash != hash && age >= renewPause {
		newer, newHash := newToken()
		renewed, err := d.keep.Renew(ctx, s.ID, s.Hash, hash, newHash, store.At(now))
		if err != nil {
			return Visitor{}, "", err
		}
		if renewed {
			next = newer
		}
	}
	if now.Sub(store.Time(s.Seen)) >= seenEvery {
		expires := min(store.At(now.Add(IdleLife)), s.Made+LongLife.Microseconds())
		if err := d.keep.See(ctx, s.ID, store.At(now), expires); err != nil {
			return Visitor{}, "", err
		}
	}
	return visitor(s), next, nil
}

// lives says that a session may still ask. A role that this version does not know may
// nothing.
func lives(s store.Session, now time.Time) bool {
	_, err := ParseRole(s.Role)
	return err == nil && s.Revoked == 0 && store.At(now) < s.Expires && now.Sub(store.Time(s.Made)) < LongLife
}

// Still says that a session may still ask.
func (d *Door) Still(ctx context.Context, session string) (bool, error) {
	all, err := d.keep.Sessions(ctx)
	if err != nil {
		return false, err
	}
	for _, s := range all {
		if s.ID == session {
			return lives(s, d.now()), nil
		}
	}
	return false, nil
}

// A Session is a browser that may ask.
type Session struct {
	ID, Person, Device string
	Role               Role
	Made, Seen, Until  time.Time
}

// An Open is an invite that can still be used.
type Open struct {
	Person string
	Role   Role
	Until  time.Time
}

// Sessions are those that may ask, the one used last first, and the invites that can be
// used.
func (d *Door) Sessions(ctx context.Context) ([]Session, []Open, error) {
	all, err := d.keep.Sessions(ctx)
	if err != nil {
		return nil, nil, err
	}
	invites, err := d.keep.Invites(ctx, store.At(d.now()))
	if err != nil {
		return nil, nil, err
	}
	var out []Session
	for _, s := range all {
		if lives(s, d.now()) {
			out = append(out, Session{ID: s.ID, Person: s.Person, Device: s.Device, Role: Role(s.Role), Made: store.Time(s.Made), Seen: store.Time(s.Seen), Until: store.Time(s.Expires)})
		}
	}
	slices.SortStableFunc(out, func(a, b Session) int { return cmp.Or(b.Seen.Compare(a.Seen), cmp.Compare(a.ID, b.ID)) })
	var open []Open
	for _, i := range invites {
		open = append(open, Open{i.Person, Role(i.Role), store.Time(i.Expires)})
	}
	return out, open, nil
}

// ErrNobody says that there is nobody, or nothing, of a name to take away.
var ErrNobody = errors.New("there is no such person or session")

// End revokes a session.
func (d *Door) End(ctx context.Context, session string) error {
	err := d.keep.EndSession(ctx, session, store.At(d.now()))
	if errors.Is(err, store.ErrNotFound) {
		return ErrNobody
	}
	return err
}

// Remove revokes all of a person, invites too.
func (d *Door) Remove(ctx context.Context, person string) (int64, error) {
	n, err := d.keep.EndPerson(ctx, strings.TrimSpace(person), store.At(d.now()))
	if err == nil && n == 0 {
		err = ErrNobody
	}
	return n, err
}
