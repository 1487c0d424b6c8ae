package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"underlamp/store"
)

// A Dialect is what differs between engines.
type Dialect struct {
	Dollars  bool                                                     // placeholders are $1, $2, … and not ?
	Snapshot *sql.TxOptions                                           // of a transaction that reads a state at one instant
	Lock     func(ctx context.Context, tx *sql.Tx, what string) error // makes transactions on one thing wait for each other; nil if the engine lets one write at a time
	Busy     func(err error) bool                                     // the error goes away when the call is made again
	Binary   string                                                   // what makes a text sort by its bytes: collate "C"; empty if it does
	Given    string                                                   // what lets an insert give an id that the engine would make
	GaveIDs  func(ctx context.Context, tx *sql.Tx, table string) error
	Bytes    string // query of the bytes of the whole
}

// A DB is a store over SQL.
type DB struct {
	write, read *sql.DB
	d           Dialect
}

var _ store.Store = (*DB)(nil)

// New is a store over two pools of one database, which may be the same; their tables
// exist.
func New(write, read *sql.DB, d Dialect) *DB { return &DB{write, read, d} }

// Close closes both pools.
func (db *DB) Close() error {
	if db.read == db.write {
		return db.write.Close()
	}
	return errors.Join(db.read.Close(), db.write.Close())
}

// text is a query in the placeholders of the engine.
func (db *DB) text(q string) string {
	if !db.d.Dollars {
		return q
	}
	var b strings.Builder
	n := 0
	for _, c := range q {
		if c == '?' {
			n++
			b.WriteString("$" + strconv.Itoa(n))
			continue
		}
		b.WriteRune(c)
	}
	return b.String()
}

// mostTries bounds how often a transaction is begun again that another one was in the
// way of.
const mostTries = 5

// change runs work in a transaction that writes; all of it is kept or nothing.
func (db *DB) change(ctx context.Context, what string, work func(tx *sql.Tx) error) error {
	for try := 1; ; try++ {
		err := db.once(ctx, work)
		if err == nil {
			return nil
		}
		if try == mostTries || db.d.Busy == nil || !db.d.Busy(err) || ctx.Err() != nil {
			return fmt.Errorf("%s: %w", what, err)
		}
		// Two that were in each other's way must not meet again at once.
		select {
		case <-ctx.Done():
		case <-time.After(time.Duration(try)*5*time.Millisecond + rand.N(10*time.Millisecond)):
		}
	}
}

func (db *DB) once(ctx context.Context, work func(tx *sql.Tx) error) error {
	tx, err := db.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit it does nothing
	if err := work(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// look runs work in a transaction that sees one state.
func (db *DB) look(ctx context.Context, what string, work func(tx *sql.Tx) error) error {
	tx, err := db.read.BeginTx(ctx, db.d.Snapshot)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	defer tx.Rollback()
	if err := work(tx); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

// each calls take for every row of a query.
func (db *DB) each(ctx context.Context, tx *sql.Tx, take func(rows *sql.Rows) error, query string, args ...any) error {
	rows, err := tx.QueryContext(ctx, db.text(query), args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := take(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// alone makes a transaction wait until no other one works on the same thing.
func (db *DB) alone(ctx context.Context, tx *sql.Tx, what string) error {
	if db.d.Lock == nil {
		return nil
	}
	return db.d.Lock(ctx, tx, what)
}

func (db *DB) exec(ctx context.Context, tx *sql.Tx, query string, args ...any) (int64, error) {
	r, err := tx.ExecContext(ctx, db.text(query), args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}
