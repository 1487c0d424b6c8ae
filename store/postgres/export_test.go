package postgres

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"

	"github.com/pressly/goose/v3"
)

// MakeVersion makes a store with the tables of an earlier version.
func MakeVersion(ctx context.Context, address string, version int64) error {
	db, err := sql.Open("pgx", address)
	if err != nil {
		return err
	}
	folder, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectPostgres, db, folder, goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return err
	}
	_, err = p.UpTo(ctx, version)
	return errors.Join(err, db.Close())
}
