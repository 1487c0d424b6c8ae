package sqlcommon

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"

	"underlamp/store"
)

// PutDocument enters a document.
func (db *DB) PutDocument(ctx context.Context, d store.Document) error {
	if d.Kind == "" || d.Name == "" {
		return errors.New("a document needs a kind and a name")
	}
	return db.change(ctx, fmt.Sprintf("enter %s %q", d.Kind, d.Name), func(tx *sql.Tx) error {
		_, err := db.exec(ctx, tx, `insert into document (kind, name, recorded, doc) values (?, ?, ?, ?) on conflict (kind, name) do update set recorded = excluded.recorded, doc = excluded.doc`,
			d.Kind, d.Name, d.Recorded, whole(d.Text))
		return err
	})
}

// SwapDocument enters a document in place of one whose text is known.
func (db *DB) SwapDocument(ctx context.Context, d store.Document, was []byte) error {
	if d.Kind == "" || d.Name == "" {
		return errors.New("a document needs a kind and a name")
	}
	return db.change(ctx, fmt.Sprintf("change %s %q", d.Kind, d.Name), func(tx *sql.Tx) error {
		var n int64
		var err error
		if was == nil {
			n, err = db.exec(ctx, tx, `insert into document (kind, name, recorded, doc) values (?, ?, ?, ?) on conflict (kind, name) do nothing`, d.Kind, d.Name, d.Recorded, whole(d.Text))
		} else {
			n, err = db.exec(ctx, tx, `update document set recorded = ?, doc = ? where kind = ? and name = ? and doc = ?`, d.Recorded, whole(d.Text), d.Kind, d.Name, was)
		}
		if err == nil && n == 0 {
			err = store.ErrDiffers
		}
		return err
	})
}

// whole is bytes that are never NULL.
func whole(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}

// Document finds a document.
func (db *DB) Document(ctx context.Context, kind, name string) (store.Document, error) {
	all, err := db.documents(ctx, `select kind, name, recorded, doc from document where kind = ? and name = ?`, kind, name)
	if err == nil && len(all) == 0 {
		err = fmt.Errorf("%s %q: %w", kind, name, store.ErrNotFound)
	}
	if err != nil {
		return store.Document{}, err
	}
	return all[0], nil
}

// Documents are all of a kind.
func (db *DB) Documents(ctx context.Context, kind string) ([]store.Document, error) {
	return db.documents(ctx, `select kind, name, recorded, doc from document where kind = ? order by name`, kind)
}

func (db *DB) documents(ctx context.Context, query string, args ...any) ([]store.Document, error) {
	var out []store.Document
	err := db.look(ctx, "read documents", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var d store.Document
			if err := rows.Scan(&d.Kind, &d.Name, &d.Recorded, &d.Text); err != nil {
				return err
			}
			out = append(out, d)
			return nil
		}, query, args...)
	})
	return out, err
}

// DropDocument takes a document away.
func (db *DB) DropDocument(ctx context.Context, kind, name string) error {
	return db.change(ctx, fmt.Sprintf("drop %s %q", kind, name), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `delete from document where kind = ? and name = ?`, kind, name)
		if err == nil && n == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

const photoColumns = `id, bench, at, recorded, media, doc`

func scanPhoto(scan func(...any) error, more ...any) (store.Photo, error) {
	var p store.Photo
	err := scan(append([]any{&p.ID, &p.Bench, &p.At, &p.Recorded, &p.Media, &p.Doc}, more...)...)
	return p, err
}

// PutPhoto enters a photo.
func (db *DB) PutPhoto(ctx context.Context, p store.Photo, data []byte) error {
	switch {
	case p.ID == "" || p.Bench == "":
		return errors.New("a photo needs an id and a bench")
	case len(data) == 0 || len(data) > store.MaxPhoto:
		return fmt.Errorf("photo %q has %d bytes; it must have at least 1 and at most %d", p.ID, len(data), store.MaxPhoto)
	}
	return db.change(ctx, fmt.Sprintf("enter photo %q", p.ID), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into photo (`+photoColumns+`, data) values (?, ?, ?, ?, ?, ?, ?) on conflict (id) do nothing`,
			p.ID, p.Bench, p.At, p.Recorded, p.Media, whole(p.Doc), data)
		if err != nil || n == 1 {
			return err
		}
		var was []byte
		old, err := scanPhoto(tx.QueryRowContext(ctx, db.text(`select `+photoColumns+`, data from photo where id = ?`), p.ID).Scan, &was)
		if err != nil {
			return err
		}
		if old.Bench != p.Bench || old.At != p.At || old.Media != p.Media || !bytes.Equal(old.Doc, p.Doc) || !bytes.Equal(was, data) {
			return store.ErrDiffers
		}
		return nil
	})
}

// Photo finds a photo.
func (db *DB) Photo(ctx context.Context, id string) (store.Photo, []byte, error) {
	var p store.Photo
	var data []byte
	err := db.look(ctx, fmt.Sprintf("read photo %q", id), func(tx *sql.Tx) error {
		var err error
		p, err = scanPhoto(tx.QueryRowContext(ctx, db.text(`select `+photoColumns+`, data from photo where id = ?`), id).Scan, &data)
		if errors.Is(err, sql.ErrNoRows) {
			err = store.ErrNotFound
		}
		return err
	})
	if err != nil {
		return store.Photo{}, nil, err
	}
	return p, data, nil
}

// Photos are those of a bench.
func (db *DB) Photos(ctx context.Context, bench string, from, to int64) ([]store.Photo, error) {
	var out []store.Photo
	err := db.look(ctx, "read photos", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			p, err := scanPhoto(rows.Scan)
			if err == nil {
				out = append(out, p)
			}
			return err
		}, `select `+photoColumns+` from photo where bench = ? and at >= ? and at < ? order by at, id`, bench, from, to)
	})
	return out, err
}
