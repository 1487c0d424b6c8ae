package sqlcommon

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"

	"underlamp/store"
)

// PutMeasure enters what a method read in a photo.
func (db *DB) PutMeasure(ctx context.Context, m store.Measure) error {
	if m.Photo == "" || m.Method == "" {
		return errors.New("a measure needs a photo and a method")
	}
	for _, p := range m.Pictures {
		if p.Name == "" || len(p.Data) == 0 || len(p.Data) > store.MaxPhoto {
			return fmt.Errorf("picture %q of photo %q has %d bytes; it must have a name, and at least 1 and at most %d", p.Name, m.Photo, len(p.Data), store.MaxPhoto)
		}
	}
	return db.change(ctx, fmt.Sprintf("enter the figures of photo %q", m.Photo), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into measure (photo, method, recorded, doc) values (?, ?, ?, ?) on conflict (photo, method) do nothing`, m.Photo, m.Method, m.Recorded, whole(m.Doc))
		if err != nil || n == 0 {
			return err
		}
		for _, p := range m.Pictures {
			if _, err := db.exec(ctx, tx, `insert into measure_picture (photo, method, name, data) values (?, ?, ?, ?)`, m.Photo, m.Method, p.Name, p.Data); err != nil {
				return err
			}
		}
		return nil
	})
}

// Measures are those of the photos of a bench.
func (db *DB) Measures(ctx context.Context, bench string) ([]store.Measure, error) {
	var out []store.Measure
	err := db.look(ctx, "read the figures of photos", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var m store.Measure
			err := rows.Scan(&m.Photo, &m.Method, &m.Recorded, &m.Doc)
			if err == nil {
				out = append(out, m)
			}
			return err
		}, `select m.photo, m.method, m.recorded, m.doc from measure m join photo p on p.id = m.photo where p.bench = ? order by p.at, p.id, m.recorded, m.method`, bench)
	})
	return out, err
}

// MeasurePicture finds a picture made beside a measure.
func (db *DB) MeasurePicture(ctx context.Context, photo, method, name string) ([]byte, error) {
	var data []byte
	err := db.look(ctx, fmt.Sprintf("read picture %q of photo %q", name, photo), func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, db.text(`select data from measure_picture where photo = ? and method = ? and name = ?`), photo, method, name).Scan(&data)
		if errors.Is(err, sql.ErrNoRows) {
			err = store.ErrNotFound
		}
		return err
	})
	return data, err
}

// PutVerdict enters what a person says.
func (db *DB) PutVerdict(ctx context.Context, v store.Verdict) error {
	if v.ID == "" || v.Photo == "" {
		return errors.New("a verdict needs an id and a photo")
	}
	return db.change(ctx, fmt.Sprintf("enter verdict %q", v.ID), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into verdict (id, photo, recorded, author, doc) values (?, ?, ?, ?, ?) on conflict (id) do nothing`, v.ID, v.Photo, v.Recorded, v.By, whole(v.Doc))
		if err != nil || n == 1 {
			return err
		}
		var photo, by string
		var doc []byte
		if err := tx.QueryRowContext(ctx, db.text(`select photo, author, doc from verdict where id = ?`), v.ID).Scan(&photo, &by, &doc); err != nil {
			return err
		}
		if photo != v.Photo || by != v.By || !bytes.Equal(doc, v.Doc) {
			return store.ErrDiffers
		}
		return nil
	})
}

// Verdicts are those on the photos of a bench, or of all.
func (db *DB) Verdicts(ctx context.Context, bench string) ([]store.Verdict, error) {
	var out []store.Verdict
	err := db.look(ctx, "read verdicts", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var v store.Verdict
			err := rows.Scan(&v.ID, &v.Photo, &v.Recorded, &v.By, &v.Doc)
			if err == nil {
				out = append(out, v)
			}
			return err
		}, `select v.id, v.photo, v.recorded, v.author, v.doc from verdict v join photo p on p.id = v.photo where p.bench = ? or ? = '' order by v.recorded, v.id`, bench, bench)
	})
	return out, err
}
