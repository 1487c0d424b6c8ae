package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

// LimitPages bounds the file, as a full disk would.
func LimitPages(s *DB, n int) error {
	_, err := s.write.Exec(fmt.Sprintf("pragma max_page_count = %d", n))
	return err
}

// MakeVersion makes a store with the tables of an earlier version.
func MakeVersion(ctx context.Context, path string, version int64) error {
	db, err := sql.Open("sqlite", dsn(path))
	if err != nil {
		return err
	}
	folder, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, folder, goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return err
	}
	_, err = p.UpTo(ctx, version)
	return errors.Join(err, db.Close())
}
