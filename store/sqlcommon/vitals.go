package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"underlamp/store"
	"underlamp/store/packed"
)

// Latest is the newest reading of every sensor.
func (db *DB) Latest(ctx context.Context) ([]store.Reading, error) {
	last := map[int64]store.Reading{}
	put := func(r store.Reading) {
		if old, ok := last[r.Sensor]; !ok || r.At >= old.At {
			last[r.Sensor] = r
		}
	}
	err := db.look(ctx, "read the newest readings", func(tx *sql.Tx) error {
		var samples []packed.Sample
		err := db.each(ctx, tx, func(rows *sql.Rows) error {
			var r store.Reading
			var data []byte
			if err := rows.Scan(&r.Sensor, &r.At, &r.Value, &data); err != nil {
				return err
			}
			if data != nil {
				var err error
				if samples, err = packed.Decode(samples[:0], r.At, data); err != nil {
					return fmt.Errorf("sensor %d, hour %s: %w", r.Sensor, hourText(r.At), err)
				}
				if n := len(samples); n > 0 {
					r.At = samples[n-1].At
				}
			}
			put(r)
			return nil
		}, `select b.sensor, b.hour, b.last, b.data from sensor s join block b on b.sensor = s.id and b.hour = (select max(hour) from block where sensor = s.id)`)
		if err != nil {
			return err
		}
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var first int64
			var data []byte
			if err := rows.Scan(&first, &data); err != nil {
				return err
			}
			return unpackBatch(data, first, 0, func(sensor int64, samples []packed.Sample) {
				end := samples[len(samples)-1]
				put(store.Reading{Sensor: sensor, At: end.At, Value: end.Value})
			})
		}, `select first_at, data from batch order by seq`)
	})
	if err != nil {
		return nil, err
	}
	out := make([]store.Reading, 0, len(last))
	for _, r := range last {
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b store.Reading) int { return int(a.Sensor - b.Sensor) })
	return out, nil
}

// Backlog is how many readings are not folded yet.
func (db *DB) Backlog(ctx context.Context) (n int64, err error) {
	err = db.look(ctx, "count what is not packed", func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `select cast(coalesce(sum(n), 0) as bigint) from batch`).Scan(&n)
	})
	return n, err
}

var errUndo = errors.New("undone")

// Ping fails if the store cannot be written to.
func (db *DB) Ping(ctx context.Context) error {
	err := db.change(ctx, "write to the store", func(tx *sql.Tx) error {
		if _, err := db.exec(ctx, tx, `insert into batch (first_at, last_at, n, data) values (0, 0, 0, ?)`, []byte{}); err != nil {
			return err
		}
		return errUndo
	})
	if errors.Is(err, errUndo) {
		return nil
	}
	return err
}
