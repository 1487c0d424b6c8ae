package sqlcommon

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"underlamp/store"
)

// PutSensor enters a sensor.
func (db *DB) PutSensor(ctx context.Context, s store.Sensor) (int64, error) {
	if s.Key == "" {
		return 0, errors.New("a sensor needs a name of its own")
	}
	doc, err := json.Marshal(s)
	if err != nil {
		return 0, fmt.Errorf("sensor %q: %w", s.Key, err)
	}
	var id int64
	err = db.change(ctx, fmt.Sprintf("enter sensor %q", s.Key), func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, db.text(`insert into sensor (name, doc) values (?, ?) on conflict (name) do update set doc = excluded.doc returning id`), s.Key, string(doc)).Scan(&id)
	})
	return id, err
}

// Sensor finds a sensor.
func (db *DB) Sensor(ctx context.Context, key string) (store.Sensor, error) {
	all, err := db.sensors(ctx, `select id, name, doc from sensor where name = ?`, key)
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("sensor %q: %w", key, store.ErrNotFound)
	}
	if err != nil {
		return store.Sensor{}, err
	}
	return all[0], nil
}

// Sensors are all sensors.
func (db *DB) Sensors(ctx context.Context) ([]store.Sensor, error) {
	return db.sensors(ctx, `select id, name, doc from sensor order by name`)
}

func (db *DB) sensors(ctx context.Context, query string, args ...any) ([]store.Sensor, error) {
	var out []store.Sensor
	err := db.look(ctx, "read sensors", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var s store.Sensor
			var id int64
			var key, doc string
			if err := rows.Scan(&id, &key, &doc); err != nil {
				return err
			}
			if err := json.Unmarshal([]byte(doc), &s); err != nil {
				return fmt.Errorf("sensor %q: %w", key, err)
			}
			s.ID, s.Key = id, key
			out = append(out, s)
			return nil
		}, query, args...)
	})
	return out, err
}

// PutBench enters a version of a bench.
func (db *DB) PutBench(ctx context.Context, v store.Version) (int, error) {
	return db.PutBenches(ctx, []store.Version{v})
}

// PutBenches enters versions of one bench, all or none.
func (db *DB) PutBenches(ctx context.Context, vs []store.Version) (int, error) {
	for _, v := range vs {
		if v.Bench == "" || v.Bench != vs[0].Bench {
			return 0, errors.New("a bench needs a name of its own, and versions are entered of one at a time")
		}
	}
	if len(vs) == 0 {
		return 0, nil
	}
	number := 0
	err := db.change(ctx, fmt.Sprintf("enter bench %q", vs[0].Bench), func(tx *sql.Tx) error {
		if err := db.alone(ctx, tx, "bench "+vs[0].Bench); err != nil {
			return err
		}
		for _, v := range vs {
			n, err := db.putBench(ctx, tx, v)
			if err != nil {
				return err
			}
			number = n
		}
		return nil
	})
	return number, err
}

func (db *DB) putBench(ctx context.Context, tx *sql.Tx, v store.Version) (number int, err error) {
	var from int64
	var text []byte
	err = tx.QueryRowContext(ctx, db.text(`select number, valid_from, doc from bench where name = ? order by number desc limit 1`), v.Bench).Scan(&number, &from, &text)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		number = 0
	case err != nil:
		return 0, err
	case from == v.From && bytes.Equal(text, v.Text):
		return number, nil
	}
	number++
	_, err = db.exec(ctx, tx, `insert into bench (name, number, valid_from, recorded, author, why, doc) values (?, ?, ?, ?, ?, ?, ?)`, v.Bench, number, v.From, v.Recorded, v.By, v.Why, v.Text)
	return number, err
}

// Bench is the version that holds at an instant.
func (db *DB) Bench(ctx context.Context, bench string, at int64) (store.Version, error) {
	all, err := db.versions(ctx, `select name, number, valid_from, recorded, author, why, doc from bench where name = ? and valid_from <= ? order by valid_from desc, number desc limit 1`, bench, at)
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("bench %q on %s: %w", bench, store.Time(at).Format("2006-01-02 15:04"), store.ErrNotFound)
	}
	if err != nil {
		return store.Version{}, err
	}
	return all[0], nil
}

// History is all versions of a bench.
func (db *DB) History(ctx context.Context, bench string) ([]store.Version, error) {
	return db.versions(ctx, `select name, number, valid_from, recorded, author, why, doc from bench where name = ? order by number`, bench)
}

func (db *DB) versions(ctx context.Context, query string, args ...any) ([]store.Version, error) {
	var out []store.Version
	err := db.look(ctx, "read benches", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var v store.Version
			if err := rows.Scan(&v.Bench, &v.Number, &v.From, &v.Recorded, &v.By, &v.Why, &v.Text); err != nil {
				return err
			}
			out = append(out, v)
			return nil
		}, query, args...)
	})
	return out, err
}

// Benches are the names of all benches.
func (db *DB) Benches(ctx context.Context) ([]string, error) {
	var out []string
	err := db.look(ctx, "read benches", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var name string
			if err := rows.Scan(&name); err != nil {
				return err
			}
			out = append(out, name)
			return nil
		}, `select distinct name from bench order by name`)
	})
	return out, err
}

// Observe enters observations.
func (db *DB) Observe(ctx context.Context, seen []store.Observation) error {
	for _, o := range seen {
		if o.ID == "" || o.Bench == "" {
			return errors.New("an observation needs an id and a bench")
		}
	}
	return db.change(ctx, "enter observations", func(tx *sql.Tx) error {
		for _, o := range seen {
			n, err := db.exec(ctx, tx, `insert into observation (id, bench, at, recorded, corrects, struck, doc) values (?, ?, ?, ?, ?, ?, ?) on conflict (id) do nothing`,
				o.ID, o.Bench, o.At, o.Recorded, o.Corrects, truth(o.Struck), o.Doc)
			if err != nil {
				return err
			}
			if n == 1 {
				continue
			}
			var was store.Observation
			var struck int
			err = tx.QueryRowContext(ctx, db.text(`select bench, at, corrects, struck, doc from observation where id = ?`), o.ID).Scan(&was.Bench, &was.At, &was.Corrects, &struck, &was.Doc)
			if err != nil {
				return err
			}
			if was.Bench != o.Bench || was.At != o.At || was.Corrects != o.Corrects || struck != truth(o.Struck) || !bytes.Equal(was.Doc, o.Doc) {
				return fmt.Errorf("observation %q: %w", o.ID, store.ErrDiffers)
			}
		}
		return nil
	})
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Observations are those of a bench.
func (db *DB) Observations(ctx context.Context, bench string, from, to int64) ([]store.Observation, error) {
	var out []store.Observation
	err := db.look(ctx, "read observations", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var o store.Observation
			var struck int
			if err := rows.Scan(&o.ID, &o.Bench, &o.At, &o.Recorded, &o.Corrects, &struck, &o.Doc); err != nil {
				return err
			}
			o.Struck = struck != 0
			out = append(out, o)
			return nil
		}, `select id, bench, at, recorded, corrects, struck, doc from observation where bench = ? and at >= ? and at < ? order by at, recorded, id`, bench, from, to)
	})
	return out, err
}
