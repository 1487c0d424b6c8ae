package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"underlamp/store"
)

const messageColumns = `id, bench, rule, body, mend, urgent, since, opened, closed, acknowledged, author`

// OpenMessage enters a message, or renews the one that is open.
func (db *DB) OpenMessage(ctx context.Context, m store.Message) (store.Message, bool, error) {
	if m.Bench == "" || m.Rule == "" || m.Opened == 0 {
		return store.Message{}, false, errors.New("a message needs a bench, a rule, and when it was opened")
	}
	fresh := false
	var out store.Message
	err := db.change(ctx, fmt.Sprintf("open message %q of %q", m.Rule, m.Bench), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `insert into message (bench, rule, body, mend, urgent, since, opened, closed, acknowledged, author) values (?, ?, ?, ?, ?, ?, ?, 0, 0, '')
			on conflict (bench, rule) where closed = 0 do nothing`, m.Bench, m.Rule, m.Text, m.Mend, truth(m.Urgent), m.Since, m.Opened)
		if err != nil {
			return err
		}
		if fresh = n == 1; !fresh {
			if _, err := db.exec(ctx, tx, `update message set body = ?, mend = ?, urgent = ? where bench = ? and rule = ? and closed = 0 and (body <> ? or mend <> ? or urgent <> ?)`,
				m.Text, m.Mend, truth(m.Urgent), m.Bench, m.Rule, m.Text, m.Mend, truth(m.Urgent)); err != nil {
				return err
			}
		}
		row := tx.QueryRowContext(ctx, db.text(`select `+messageColumns+` from message where bench = ? and rule = ? and closed = 0`), m.Bench, m.Rule)
		err = scanMessage(row.Scan, &out)
		if errors.Is(err, sql.ErrNoRows) { // closed by another server in between: over, so it is told the next time
			out, fresh = m, false
			return nil
		}
		return err
	})
	return out, fresh, err
}

func scanMessage(scan func(...any) error, m *store.Message) error {
	var urgent int
	err := scan(&m.ID, &m.Bench, &m.Rule, &m.Text, &m.Mend, &urgent, &m.Since, &m.Opened, &m.Closed, &m.Acknowledged, &m.By)
	m.Urgent = urgent != 0
	return err
}

// CloseMessage ends the open message of a rule.
func (db *DB) CloseMessage(ctx context.Context, bench, rule string, at int64) (bool, error) {
	closed := false
	err := db.change(ctx, fmt.Sprintf("close message %q of %q", rule, bench), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update message set closed = ? where bench = ? and rule = ? and closed = 0`, at, bench, rule)
		closed = n > 0
		return err
	})
	return closed, err
}

// Acknowledge notes who knows of a message.
func (db *DB) Acknowledge(ctx context.Context, id int64, by string, at int64) error {
	return db.change(ctx, fmt.Sprintf("acknowledge message %d", id), func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update message set acknowledged = ?, author = ? where id = ? and acknowledged = 0`, at, by, id)
		if err != nil || n > 0 {
			return err
		}
		var there int
		err = tx.QueryRowContext(ctx, db.text(`select count(*) from message where id = ?`), id).Scan(&there)
		if err == nil && there == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

// OpenMessages are those that are open.
func (db *DB) OpenMessages(ctx context.Context, bench string) ([]store.Message, error) {
	return db.messages(ctx, `select `+messageColumns+` from message where closed = 0 and (? = '' or bench = ?) order by opened, id`, bench, bench)
}

// Messages are those that were open at some time.
func (db *DB) Messages(ctx context.Context, bench string, from, to int64) ([]store.Message, error) {
	return db.messages(ctx, `select `+messageColumns+` from message where opened < ? and (closed = 0 or closed >= ?) and (? = '' or bench = ?) order by opened, id`, to, from, bench, bench)
}

func (db *DB) messages(ctx context.Context, query string, args ...any) ([]store.Message, error) {
	var out []store.Message
	err := db.look(ctx, "read messages", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var m store.Message
			if err := scanMessage(rows.Scan, &m); err != nil {
				return err
			}
			out = append(out, m)
			return nil
		}, query, args...)
	})
	return out, err
}

const deliveryColumns = `message, event, receiver, due, tries, done, fault`

// PlanDeliveries enters deliveries that are not there yet.
func (db *DB) PlanDeliveries(ctx context.Context, ds []store.Delivery) error {
	if len(ds) == 0 {
		return nil
	}
	return db.change(ctx, "plan deliveries", func(tx *sql.Tx) error {
		for _, d := range ds {
			if _, err := db.exec(ctx, tx, `insert into delivery (`+deliveryColumns+`, claimed) values (?, ?, ?, ?, ?, ?, ?, 0) on conflict (message, event, receiver) do nothing`,
				d.Message, d.Event, d.Receiver, d.Due, d.Tries, d.Done, d.Fault); err != nil {
				return err
			}
		}
		return nil
	})
}

// ClaimDeliveries takes some that are due. The condition on the claim stands in the
// update itself: of two servers the second looks again when the first is done.
func (db *DB) ClaimDeliveries(ctx context.Context, now, until int64, most int) ([]store.Delivery, error) {
	var out []store.Delivery
	err := db.change(ctx, "claim deliveries", func(tx *sql.Tx) error {
		out = nil
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			d, err := scanDelivery(rows)
			out = append(out, d)
			return err
		}, `update delivery set claimed = ? where done = 0 and due <= ? and claimed <= ?
			and (message, event, receiver) in (select message, event, receiver from delivery where done = 0 and due <= ? and claimed <= ? order by due, message, event, receiver limit ?)
			returning `+deliveryColumns, until, now, now, now, now, most)
	})
	return out, err
}

func scanDelivery(rows *sql.Rows) (store.Delivery, error) {
	var d store.Delivery
	err := rows.Scan(&d.Message, &d.Event, &d.Receiver, &d.Due, &d.Tries, &d.Done, &d.Fault)
	return d, err
}

// PutDelivery enters what became of a delivery.
func (db *DB) PutDelivery(ctx context.Context, d store.Delivery) error {
	return db.change(ctx, "enter a delivery", func(tx *sql.Tx) error {
		n, err := db.exec(ctx, tx, `update delivery set due = ?, tries = ?, done = ?, fault = ?, claimed = 0 where message = ? and event = ? and receiver = ?`,
			d.Due, d.Tries, d.Done, d.Fault, d.Message, d.Event, d.Receiver)
		if err == nil && n == 0 {
			err = store.ErrNotFound
		}
		return err
	})
}

// Deliveries are those of a message.
func (db *DB) Deliveries(ctx context.Context, message int64) ([]store.Delivery, error) {
	var out []store.Delivery
	err := db.look(ctx, "read deliveries", func(tx *sql.Tx) error {
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			d, err := scanDelivery(rows)
			out = append(out, d)
			return err
		}, `select `+deliveryColumns+` from delivery where message = ? order by event, receiver`, message)
	})
	return out, err
}
