package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"underlamp/store"
)

// AddToken enters a token.
func (db *DB) AddToken(ctx context.Context, t store.Token) error {
	if t.ID == "" || t.Name == "" || t.Scopes == "" {
		return errors.New("a token needs an id, a name and a scope")
	}
	return db.change(ctx, fmt.Sprintf("enter token %q", t.Name), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into api_token (id, hash, name, scopes, made, expires, used, revoked) values (?, ?, ?, ?, ?, ?, ?, ?) on conflict do nothing`,
			t.ID, t.Hash[:], t.Name, t.Scopes, t.Made, t.Expires, t.Used, t.Revoked)
		if err == nil && n == 0 {
			err = store.ErrDiffers
		}
		return err
	})
}

func (db *DB) tokens(ctx context.Context, query string, args ...any) ([]store.Token, error) {
	var out []store.Token
	err := db.look(ctx, "read tokens", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var t store.Token
			var hash []byte
			if err := rows.Scan(&t.ID, &hash, &t.Name, &t.Scopes, &t.Made, &t.Expires, &t.Used, &t.Revoked); err != nil {
				return err
			}
			copy(t.Hash[:], hash)
			out = append(out, t)
			return nil
		}, `select id, hash, name, scopes, made, expires, used, revoked from api_token `+query, args...)
	})
	return out, err
}

// TokenBy finds a token by its hash.
func (db *DB) TokenBy(ctx context.Context, hash [32]byte) (store.Token, error) {
	all, err := db.tokens(ctx, `where hash = ?`, hash[:])
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("a token of this text: %w", store.ErrNotFound)
	}
	if err != nil {
		return store.Token{}, err
	}
	return all[0], nil
}

// UseToken notes that a token was used.
func (db *DB) UseToken(ctx context.Context, id string, at int64) error {
	return db.change(ctx, "use a token", func(tx *sql.Tx) error {
		_, err := db.exec(ctx, tx, `update api_token set used = ? where id = ? and used < ?`, at, id, at)
		return err
	})
}

// Tokens are all tokens.
func (db *DB) Tokens(ctx context.Context) ([]store.Token, error) {
	return db.tokens(ctx, `order by made, id`)
}

// EndToken revokes a token.
func (db *DB) EndToken(ctx context.Context, id string, at int64) error {
	return db.change(ctx, "revoke a token", func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update api_token set revoked = ? where id = ? and revoked = 0`, at, id)
		if err == nil && n == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

// ClaimAnswer enters an answer that is being worked at.
func (db *DB) ClaimAnswer(ctx context.Context, a store.Answer) (store.Answer, bool, error) {
	if a.Key == "" {
		return store.Answer{}, false, errors.New("an answer needs a key")
	}
	var out store.Answer
	mine := false
	err := db.change(ctx, "claim an answer", func(tx *sql.Tx) error {
		if _, err := db.exec(ctx, tx, `delete from api_answer where expires <= ?`, a.Made); err != nil {
			return err
		}
		n, err := db.exec(ctx, tx, `insert into api_answer (id, request, made, expires, status, head, body) values (?, ?, ?, ?, 0, ?, ?) on conflict do nothing`,
			a.Key, a.Request[:], a.Made, a.Expires, []byte{}, []byte{})
		if mine, out = n > 0, a; err != nil || mine {
			return err
		}
		var hash []byte
		err = tx.QueryRowContext(ctx, db.text(`select id, request, made, expires, status, head, body from api_answer where id = ?`), a.Key).Scan(&out.Key, &hash, &out.Made, &out.Expires, &out.Status, &out.Head, &out.Body)
		copy(out.Request[:], hash)
		return err
	})
	return out, mine, err
}

// PutAnswer puts an answer in place of its claim.
func (db *DB) PutAnswer(ctx context.Context, a store.Answer) error {
	return db.change(ctx, "keep an answer", func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update api_answer set expires = ?, status = ?, head = ?, body = ? where id = ? and made = ? and status = 0`,
			a.Expires, a.Status, whole(a.Head), whole(a.Body), a.Key, a.Made)
		if err == nil && n == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

// DropAnswer gives a claim up.
func (db *DB) DropAnswer(ctx context.Context, a store.Answer) error {
	return db.change(ctx, "give an answer up", func(tx *sql.Tx) error {
		_, err := db.exec(ctx, tx, `delete from api_answer where id = ? and made = ? and status = 0`, a.Key, a.Made)
		return err
	})
}
