package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"underlamp/store"
)

// AddDevice enters a device.
func (db *DB) AddDevice(ctx context.Context, d store.Device, hash [32]byte) error {
	if d.Name == "" {
		return errors.New("a device needs a name of its own")
	}
	return db.change(ctx, fmt.Sprintf("enter device %q", d.Name), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into device (name, hash, made, revoked) values (?, ?, ?, 0) on conflict (name) do nothing`, d.Name, hash[:], d.Made)
		if err == nil && n == 0 {
			err = store.ErrDiffers
		}
		return err
	})
}

// DeviceBy finds the device of a token.
func (db *DB) DeviceBy(ctx context.Context, hash [32]byte) (store.Device, error) {
	all, err := db.devices(ctx, `select name, made, revoked from device where hash = ? and revoked = 0`, hash[:])
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("a device of this token: %w", store.ErrNotFound)
	}
	if err != nil {
		return store.Device{}, err
	}
	return all[0], nil
}

// Revoke ends the right of a device to send.
func (db *DB) Revoke(ctx context.Context, name string, at int64) error {
	return db.change(ctx, fmt.Sprintf("revoke device %q", name), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update device set revoked = ? where name = ? and revoked = 0`, at, name)
		if err == nil && n == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

// Devices are all devices.
func (db *DB) Devices(ctx context.Context) ([]store.Device, error) {
	return db.devices(ctx, `select name, made, revoked from device order by name`)
}

func (db *DB) devices(ctx context.Context, query string, args ...any) ([]store.Device, error) {
	var out []store.Device
	err := db.look(ctx, "read devices", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var d store.Device
			if err := rows.Scan(&d.Name, &d.Made, &d.Revoked); err != nil {
				return err
			}
			out = append(out, d)
			return nil
		}, query, args...)
	})
	return out, err
}
