// Package sqlite keeps a store in one file. It is what a person has who has set up
// nothing.
//
// Writes go through one connection, with a log ahead of the file (WAL) that is brought
// to the disk before a call returns, so that neither a killed program nor a lost mains
// takes what was acknowledged. Reads go beside them.
package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"underlamp/store"
	"underlamp/store/sqlcommon"
)

//go:embed migrations/*.sql
var migrations embed.FS

// A DB is a store in a file.
type DB struct {
	*sqlcommon.DB
	path        string // absolute
	write, read *sql.DB
}

// readers are the connections that read beside the one that writes.
const readers = 4

// Open opens the store in a file, and makes it if there is none. A store of an earlier
// version is brought up to date; a copy of the file as it was is kept beside it, with
// its version in the name.
func Open(ctx context.Context, path string) (*DB, error) {
	db, err := open(ctx, path)
	switch {
	case err == nil:
		return db, nil
	case strings.Contains(err.Error(), "file is not a database"):
		err = fmt.Errorf("the file is no store, as underlamp serve makes one (%w)", err)
	case strings.Contains(err.Error(), "malformed"):
		err = fmt.Errorf("the file is damaged, or was cut short: bring a copy back (underlamp store restore) (%w)", err)
	}
	return nil, fmt.Errorf("the store %s cannot be opened: %w", path, err)
}

func open(ctx context.Context, path string) (*DB, error) {
	at, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
		return nil, err
	}
	write, err := sql.Open("sqlite", dsn(at, "_txlock=immediate", "_pragma=journal_mode(wal)", "_pragma=synchronous(full)"))
	if err != nil {
		return nil, err
	}
	write.SetMaxOpenConns(1)
	if err := prepare(ctx, write, at); err != nil {
		return nil, errors.Join(err, write.Close())
	}
	read, err := sql.Open("sqlite", dsn(at, "_pragma=query_only(1)"))
	if err != nil {
		return nil, errors.Join(err, write.Close())
	}
	read.SetMaxOpenConns(readers)
	d := sqlcommon.Dialect{
		Busy: func(err error) bool {
			var e *sqlite.Error
			return errors.As(err, &e) && (e.Code()&0xff == sqlite3.SQLITE_BUSY || e.Code()&0xff == sqlite3.SQLITE_LOCKED)
		},
		Bytes: `select page_count * page_size from pragma_page_count(), pragma_page_size()`,
	}
	return &DB{sqlcommon.New(write, read, d), at, write, read}, nil
}

func dsn(path string, more ...string) string {
	q := "_pragma=busy_timeout(10000)"
	for _, m := range more {
		q += "&" + m
	}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: q}).String()
}

// prepare brings the tables up to date.
func prepare(ctx context.Context, db *sql.DB, path string) error {
	folder, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, folder, goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return err
	}
	have, want, err := p.GetVersions(ctx)
	if err != nil {
		return err
	}
	switch {
	case have > want:
		return fmt.Errorf("it was written by a newer underlamp (version %d of its tables; this one knows %d)", have, want)
	case have == want:
		return nil
	case have > 0:
		copied := fmt.Sprintf("%s.before-version-%d", path, want)
		if err := backup(ctx, db, copied); err != nil && !errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("it is of an earlier version, and no copy could be made before it is brought up to date: %w", err)
		}
		slog.Info("the store is brought up to date", "from", have, "to", want, "copy", copied)
	}
	_, err = p.Up(ctx)
	return err
}

// Verify reads everything and says what does not agree: first the file, then what is
// in it.
func (db *DB) Verify(ctx context.Context) ([]store.Fault, error) {
	rows, err := db.read.QueryContext(ctx, `pragma integrity_check(20)`)
	if err != nil {
		return nil, fmt.Errorf("verify: %w", err)
	}
	defer rows.Close()
	var out []store.Fault
	for rows.Next() {
		var said string
		if err := rows.Scan(&said); err != nil {
			return nil, fmt.Errorf("verify: %w", err)
		}
		if said != "ok" {
			out = append(out, store.Fault{Where: "the file", What: said, Mend: "stop the server, keep a copy of the file, and restore a backup (underlamp store restore)"})
		}
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("verify: %w", err)
	}
	more, err := db.DB.Verify(ctx)
	if err != nil && len(out) > 0 { // what is damaged may not be readable at all
		return append(out, store.Fault{Where: "the content", What: err.Error(), Mend: "restore a backup"}), nil
	}
	return append(out, more...), err
}

// Backup writes the store as it is at this instant into a new file, while it is in
// use.
func (db *DB) Backup(ctx context.Context, path string) error {
	// On a connection of its own, so that what arrives meanwhile is kept meanwhile.
	own, err := sql.Open("sqlite", dsn(db.path))
	if err == nil {
		err = errors.Join(backup(ctx, own, path), own.Close())
	}
	if err != nil {
		return fmt.Errorf("the store could not be copied to %s: %w", path, err)
	}
	return nil
}

// backup writes beside the aim first, so that a copy that is there is whole.
func backup(ctx context.Context, db *sql.DB, path string) error {
	if _, err := os.Stat(path); err == nil {
		return fs.ErrExist
	}
	part := path + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := db.ExecContext(ctx, `vacuum into ?`, part); err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return os.Rename(part, path)
}
