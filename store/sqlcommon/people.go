package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"underlamp/store"
)

// PutInvite enters an invite.
func (db *DB) PutInvite(ctx context.Context, i store.Invite) error {
	if i.ID == "" || i.Person == "" || i.Role == "" {
		return errors.New("an invite needs an id, a person and a role")
	}
	return db.change(ctx, fmt.Sprintf("invite %q", i.Person), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into invite (id, hash, person, role, made, expires, used) values (?, ?, ?, ?, ?, ?, ?) on conflict do nothing`,
			i.ID, i.Hash[:], i.Person, i.Role, i.Made, i.Expires, i.Used)
		if err == nil && n == 0 {
			err = store.ErrDiffers
		}
		return err
	})
}

// Invites are those that can be used at an instant.
func (db *DB) Invites(ctx context.Context, now int64) ([]store.Invite, error) {
	var out []store.Invite
	err := db.look(ctx, "read invites", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var i store.Invite
			var hash []byte
			if err := rows.Scan(&i.ID, &hash, &i.Person, &i.Role, &i.Made, &i.Expires, &i.Used); err != nil {
				return err
			}
			copy(i.Hash[:], hash)
			out = append(out, i)
			return nil
		}, `select id, hash, person, role, made, expires, used from invite where used = 0 and expires > ? order by made, id`, now)
	})
	return out, err
}

// endedFor is how long sessions that have ended stay in the list.
const endedFor = 365 * store.Day

// Redeem uses an invite for a session.
func (db *DB) Redeem(ctx context.Context, invite string, s store.Session) error {
	if s.ID == "" || s.Person == "" || s.Role == "" {
		return errors.New("a session needs an id, a person and a role")
	}
	return db.change(ctx, "let a browser in", func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update invite set used = ? where id = ? and used = 0 and expires > ?`, s.Made, invite, s.Made)
		if err == nil && n == 0 {
			err = fmt.Errorf("an invite that can be used: %w", store.ErrNotFound)
		}
		if err != nil {
			return err
		}
		if _, err := db.exec(ctx, tx, `delete from session where expires < ?`, s.Made-endedFor); err != nil {
			return err
		}
		if _, err := db.exec(ctx, tx, `delete from invite where expires < ?`, s.Made-endedFor); err != nil {
			return err
		}
		_, err = db.exec(ctx, tx, `insert into session (id, hash, earlier, person, role, device, made, seen, expires, revoked, issued) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			s.ID, s.Hash[:], []byte{}, s.Person, s.Role, s.Device, s.Made, s.Seen, s.Expires, s.Revoked, s.Issued)
		return err
	})
}

const sessionColumns = `id, hash, person, role, device, made, seen, expires, revoked, issued`

func (db *DB) sessions(ctx context.Context, take func(s store.Session), query string, args ...any) error {
	return db.look(ctx, "read sessions", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var s store.Session
			var hash []byte
			if err := rows.Scan(&s.ID, &hash, &s.Person, &s.Role, &s.Device, &s.Made, &s.Seen, &s.Expires, &s.Revoked, &s.Issued); err != nil {
				return err
			}
			copy(s.Hash[:], hash)
			take(s)
			return nil
		}, `select `+sessionColumns+` from session `+query, args...)
	})
}

// SessionBy finds the session of a token.
func (db *DB) SessionBy(ctx context.Context, hash [32]byte) (store.Session, error) {
	var out *store.Session
	err := db.sessions(ctx, func(s store.Session) { out = &s }, `where hash = ? or earlier = ?`, hash[:], hash[:])
	if err != nil {
		return store.Session{}, err
	}
	if out == nil {
		return store.Session{}, fmt.Errorf("a session of this token: %w", store.ErrNotFound)
	}
	return *out, nil
}

// Renew gives a session a newer token.
func (db *DB) Renew(ctx context.Context, id string, was, earlier, hash [32]byte, at int64) (bool, error) {
	renewed := false
	err := db.change(ctx, "renew a session", func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update session set earlier = ?, hash = ?, issued = ? where id = ? and hash = ? and revoked = 0`,
			earlier[:], hash[:], at, id, was[:])
		renewed = n > 0
		return err
	})
	return renewed, err
}

// See notes that a session asked for something.
func (db *DB) See(ctx context.Context, id string, at, expires int64) error {
	return db.change(ctx, "see a session", func(tx *sql.Tx) error {
		_, err := db.exec(ctx, tx, `update session set seen = ?, expires = ? where id = ? and revoked = 0 and seen < ?`, at, expires, id, at)
		return err
	})
}

// Sessions are all sessions.
func (db *DB) Sessions(ctx context.Context) ([]store.Session, error) {
	var out []store.Session
	err := db.sessions(ctx, func(s store.Session) { out = append(out, s) }, `order by made, id`)
	return out, err
}

// EndSession revokes a session.
func (db *DB) EndSession(ctx context.Context, id string, at int64) error {
	return db.change(ctx, "end a session", func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update session set revoked = ? where id = ? and revoked = 0`, at, id)
		if err == nil && n == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

// EndPerson ends all of a person.
func (db *DB) EndPerson(ctx context.Context, person string, at int64) (int64, error) {
	var all int64
	err := db.change(ctx, fmt.Sprintf("remove %q", person), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update session set revoked = ? where person = ? and revoked = 0 and expires > ?`, at, person, at)
		if err != nil {
			return err
		}
		m, err := db.exec(ctx, tx, `update invite set used = ? where person = ? and used = 0 and expires > ?`, at, person, at)
		all = n + m
		return err
	})
	return all, err
}
