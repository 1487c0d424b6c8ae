package sqlcommon

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"underlamp/store"
	"underlamp/store/packed"
)

// A kept is a table that goes into a copy of the whole.
type kept struct {
	store.Table
	key  []string // what orders its rows
	made bool     // the engine makes its id
}

func column(k store.Kind, names ...string) []store.Column {
	var out []store.Column
	for _, n := range names {
		out = append(out, store.Column{Name: n, Kind: k})
	}
	return out
}

// keeps are all tables apart from those of readings. A test holds the list to what the
// migrations make.
var keeps = []kept{
	{made: true, key: []string{"id"}, Table: store.Table{Name: "sensor", Columns: slices.Concat(column(store.Integer, "id"), column(store.Text, "name", "doc"))}},
	{key: []string{"name", "number"}, Table: store.Table{Name: "bench", Columns: slices.Concat(column(store.Text, "name"), column(store.Integer, "number", "valid_from", "recorded"), column(store.Text, "author"), column(store.Bytes, "doc"), []store.Column{{Name: "why", Kind: store.Text, Later: true}})}},
	{key: []string{"id"}, Table: store.Table{Name: "observation", Columns: slices.Concat(column(store.Text, "id", "bench"), column(store.Integer, "at", "recorded"), column(store.Text, "corrects"), column(store.Integer, "struck"), column(store.Bytes, "doc"))}},
	{key: []string{"kind", "name"}, Table: store.Table{Name: "document", Columns: slices.Concat(column(store.Text, "kind", "name"), column(store.Integer, "recorded"), column(store.Bytes, "doc"))}},
	{key: []string{"id"}, Table: store.Table{Name: "photo", Columns: slices.Concat(column(store.Text, "id", "bench"), column(store.Integer, "at", "recorded"), column(store.Text, "media"), column(store.Bytes, "doc"), column(store.File, "data"))}},
	{key: []string{"photo", "method"}, Table: store.Table{Name: "measure", Columns: slices.Concat(column(store.Text, "photo", "method"), column(store.Integer, "recorded"), column(store.Bytes, "doc"))}},
	{key: []string{"photo", "method", "name"}, Table: store.Table{Name: "measure_picture", Columns: slices.Concat(column(store.Text, "photo", "method", "name"), column(store.File, "data"))}},
	{key: []string{"id"}, Table: store.Table{Name: "verdict", Columns: slices.Concat(column(store.Text, "id", "photo"), column(store.Integer, "recorded"), column(store.Text, "author"), column(store.Bytes, "doc"))}},
	{key: []string{"name"}, Table: store.Table{Name: "device", Columns: slices.Concat(column(store.Text, "name"), column(store.Bytes, "hash"), column(store.Integer, "made", "revoked"))}},
	{made: true, key: []string{"id"}, Table: store.Table{Name: "message", Columns: slices.Concat(column(store.Integer, "id"), column(store.Text, "bench", "rule", "body", "mend"), column(store.Integer, "urgent", "since", "opened", "closed", "acknowledged"), column(store.Text, "author"))}},
	{key: []string{"message", "event", "receiver"}, Table: store.Table{Name: "delivery", Columns: slices.Concat(column(store.Integer, "message"), column(store.Text, "event", "receiver"), column(store.Integer, "due", "tries", "done"), column(store.Text, "fault"), column(store.Integer, "claimed"))}},
	{key: []string{"id"}, Table: store.Table{Name: "invite", Columns: slices.Concat(column(store.Text, "id"), column(store.Bytes, "hash"), column(store.Text, "person", "role"), column(store.Integer, "made", "expires", "used"))}},
	{key: []string{"id"}, Table: store.Table{Name: "session", Columns: slices.Concat(column(store.Text, "id"), column(store.Bytes, "hash", "earlier"), column(store.Text, "person", "role", "device"), column(store.Integer, "made", "seen", "expires", "revoked", "issued"))}},
	{key: []string{"id"}, Table: store.Table{Name: "api_token", Columns: slices.Concat(column(store.Text, "id"), column(store.Bytes, "hash"), column(store.Text, "name", "scopes"), column(store.Integer, "made", "expires", "used", "revoked"))}},
	{key: []string{"id"}, Table: store.Table{Name: "api_answer", Columns: slices.Concat(column(store.Text, "id"), column(store.Bytes, "request"), column(store.Integer, "made", "expires", "status"), column(store.Bytes, "head", "body"))}},
}

// Tables are those that Dump hands over.
func (db *DB) Tables() []store.Table {
	var out []store.Table
	for _, k := range keeps {
		out = append(out, k.Table)
	}
	return out
}

func (k kept) names() string {
	var out []string
	for _, c := range k.Columns {
		out = append(out, c.Name)
	}
	return strings.Join(out, ", ")
}

// order sorts rows alike on every engine.
func (k kept) order(binary string) string {
	var out []string
	for _, name := range k.key {
		i := slices.IndexFunc(k.Columns, func(c store.Column) bool { return c.Name == name })
		if k.Columns[i].Kind == store.Text && binary != "" {
			name += " " + binary
		}
		out = append(out, name)
	}
	return strings.Join(out, ", ")
}

// row is room for the values of a row, and how to read them from it.
func (k kept) row() (room []any, values func() []any) {
	for _, c := range k.Columns {
		switch c.Kind {
		case store.Integer:
			room = append(room, new(int64))
		case store.Text:
			room = append(room, new(string))
		default:
			room = append(room, new([]byte))
		}
	}
	return room, func() []any {
		out := make([]any, len(room))
		for i, r := range room {
			switch v := r.(type) {
			case *int64:
				out[i] = *v
			case *string:
				out[i] = *v
			case *[]byte:
				out[i] = *v
			}
		}
		return out
	}
}

// Dump hands over all of the store.
func (db *DB) Dump(ctx context.Context, to store.Sink) error {
	return db.look(ctx, "copy the store", func(tx *sql.Tx) error {
		for _, k := range keeps {
			room, values := k.row()
			err := db.each(ctx, tx, func(rows *sql.Rows) error {
				if err := rows.Scan(room...); err != nil {
					return fmt.Errorf("table %s: %w", k.Name, err)
				}
				return to.Row(k.Table, values())
			}, `select `+k.names()+` from `+k.Name+` order by `+k.order(db.d.Binary))
			if err != nil {
				return err
			}
		}
		return db.dumpHours(ctx, tx, to)
	})
}

// at is an hour of a sensor.
type hourOf struct{ sensor, hour int64 }

func (h hourOf) before(o hourOf) bool {
	return h.sensor < o.sensor || h.sensor == o.sensor && h.hour < o.hour
}

// hoursQuery is all hours, with their packed readings and what was forgotten of the sensor.
const hoursQuery = `select s.sensor, s.hour, n, least, most, total, first, last, data, coalesce(f.before_hour, 0) from hour_sum s
	left join raw r on r.sensor = s.sensor and r.hour = s.hour left join forgotten f on f.sensor = s.sensor order by s.sensor, s.hour`

func (db *DB) dumpHours(ctx context.Context, tx *sql.Tx, to store.Sink) error {
	late := map[hourOf][]packed.Sample{}
	err := db.each(ctx, tx, func(rows *sql.Rows) error {
		var seq, first int64
		var data []byte
		if err := rows.Scan(&seq, &first, &data); err != nil {
			return err
		}
		err := unpackBatch(data, first, 0, func(sensor int64, samples []packed.Sample) {
			for len(samples) > 0 {
				h := hourOf{sensor, floor(samples[0].At, store.Hour)}
				mine := cut(samples, h.hour, h.hour+store.Hour)
				samples = samples[len(mine):]
				late[h] = packed.Merge(nil, late[h], mine)
			}
		})
		if err != nil {
			return fmt.Errorf("batch %d: %w", seq, err)
		}
		return nil
	}, `select seq, first_at, data from batch order by seq`)
	if err != nil {
		return err
	}
	waiting := make([]hourOf, 0, len(late))
	for h := range late {
		waiting = append(waiting, h)
	}
	slices.SortFunc(waiting, func(a, b hourOf) int {
		if a.before(b) {
			return -1
		}
		return 1
	})
	// flush hands over the hours that are not folded at all, up to one that is.
	flush := func(until *hourOf) error {
		for len(waiting) > 0 && (until == nil || waiting[0].before(*until)) {
			h := waiting[0]
			waiting = waiting[1:]
			if err := to.Hour(h.sensor, store.Bucket{}, late[h]); err != nil {
				return err
			}
		}
		return nil
	}
	var old []packed.Sample
	err = db.each(ctx, tx, func(rows *sql.Rows) error {
		var h hourOf
		var b store.Bucket
		var data []byte
		var forgotten int64
		if err := rows.Scan(&h.sensor, &h.hour, &b.N, &b.Min, &b.Max, &b.Sum, &b.First, &b.Last, &data, &forgotten); err != nil {
			return err
		}
		if err := flush(&h); err != nil {
			return err
		}
		fresh := late[h]
		if fresh != nil {
			waiting = waiting[1:]
		}
		if data == nil && h.hour >= forgotten {
			return fmt.Errorf("sensor %d, hour %s: its readings are missing", h.sensor, hourText(h.hour))
		}
		if data == nil { // late readings go the way of those of their hour
			b.From = h.hour
			return to.Hour(h.sensor, b, nil)
		}
		var err error
		if old, err = packed.Decode(old[:0], h.hour, data); err != nil {
			return fmt.Errorf("sensor %d, hour %s: %w", h.sensor, hourText(h.hour), err)
		}
		all := old
		if fresh != nil {
			all = packed.Merge(nil, old, fresh)
		}
		return to.Hour(h.sensor, store.Bucket{}, all)
	}, hoursQuery)
	if err != nil {
		return err
	}
	return flush(nil)
}

// Load fills the store.
func (db *DB) Load(ctx context.Context, fill func(to store.Sink) error) error {
	// It is begun once: fill reads a file and may not be able to begin again.
	err := db.once(ctx, func(tx *sql.Tx) error {
		for _, name := range slices.Concat(db.tableNames(), []string{"batch", "hour_sum", "raw"}) {
			var one int
			err := tx.QueryRowContext(ctx, `select 1 from `+name+` limit 1`).Scan(&one)
			if err == nil {
				return fmt.Errorf("there are entries in table %s: %w", name, store.ErrNotEmpty)
			} else if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
		}
		l := &loader{hours: hours{ctx: ctx, db: db, tx: tx}, into: map[string]*sql.Stmt{}, forgotten: map[int64]int64{}}
		defer l.close()
		if err := fill(l); err != nil {
			return err
		}
		if _, err := db.exec(ctx, tx, `delete from forgotten`); err != nil {
			return err
		}
		for sensor, hour := range l.forgotten {
			if _, err := db.exec(ctx, tx, `insert into forgotten (sensor, before_hour) values (?, ?)`, sensor, hour); err != nil {
				return err
			}
		}
		if db.d.GaveIDs == nil {
			return nil
		}
		for _, k := range keeps {
			if k.made {
				if err := db.d.GaveIDs(ctx, tx, k.Name); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("fill the store: %w", err)
	}
	return nil
}

func (db *DB) tableNames() []string {
	var out []string
	for _, k := range keeps {
		out = append(out, k.Name)
	}
	return out
}

// A loader is the sink of a store.
type loader struct {
	hours
	into      map[string]*sql.Stmt
	forgotten map[int64]int64 // by sensor: the end of its last forgotten hour
}

func (l *loader) close() {
	l.hours.close()
	for _, s := range l.into {
		s.Close()
	}
}

// Row enters a row.
func (l *loader) Row(t store.Table, values []any) error {
	i := slices.IndexFunc(keeps, func(k kept) bool { return k.Name == t.Name })
	if i < 0 {
		return fmt.Errorf("there is no table %q", t.Name)
	}
	k := keeps[i]
	if !slices.Equal(k.Columns, t.Columns) || len(values) != len(k.Columns) {
		return fmt.Errorf("table %s has other columns", t.Name)
	}
	given := ""
	if k.made {
		given = l.db.d.Given
	}
	s := l.into[t.Name]
	if s == nil {
		var err error
		s, err = l.tx.PrepareContext(l.ctx, l.db.text(`insert into `+k.Name+` (`+k.names()+`) `+given+` values (?`+strings.Repeat(", ?", len(k.Columns)-1)+`)`))
		if err != nil {
			return err
		}
		l.into[t.Name] = s
	}
	for i, v := range values {
		if b, ok := v.([]byte); ok {
			values[i] = whole(b)
		}
	}
	if _, err := s.ExecContext(l.ctx, values...); err != nil {
		return fmt.Errorf("table %s: %w", t.Name, err)
	}
	return nil
}

// Hour enters an hour of a sensor.
func (l *loader) Hour(sensor int64, b store.Bucket, samples []packed.Sample) error {
	if len(samples) == 0 {
		l.forgotten[sensor] = max(l.forgotten[sensor], b.From+store.Hour)
	} else {
		hour := floor(samples[0].At, store.Hour)
		switch {
		case len(samples) > packed.Most:
			return fmt.Errorf("sensor %d has %d readings in the hour of %s; at most %d are kept", sensor, len(samples), hourText(hour), packed.Most)
		case samples[len(samples)-1].At >= hour+store.Hour:
			return fmt.Errorf("sensor %d: the readings of the hour of %s go beyond it", sensor, hourText(hour))
		}
		b = sum(samples)
		b.From = hour
	}
	if err := l.put(sensor, b, samples); err != nil {
		return fmt.Errorf("sensor %d, hour of %s: %w", sensor, hourText(b.From), err)
	}
	return nil
}

// Size says how much is kept.
func (db *DB) Size(ctx context.Context) (store.Size, error) {
	var out store.Size
	err := db.look(ctx, "measure the store", func(tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, db.d.Bytes).Scan(&out.Bytes); err != nil {
			return err
		}
		if err := tx.QueryRowContext(ctx, `select cast(coalesce(sum(n), 0) as bigint) from batch`).Scan(&out.Waiting); err != nil {
			return err
		}
		for _, name := range db.tableNames() {
			t := store.TableSize{Name: name}
			if err := tx.QueryRowContext(ctx, `select count(*) from `+name).Scan(&t.Rows); err != nil {
				return err
			}
			out.Tables = append(out.Tables, t)
		}
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var s store.SensorSize
			if err := rows.Scan(&s.ID, &s.Readings, &s.Forgotten, &s.Bytes, &s.First, &s.Last); err != nil {
				return err
			}
			out.Sensors = append(out.Sensors, s)
			return nil
		}, `select s.sensor, cast(sum(case when r.data is null then 0 else n end) as bigint), cast(sum(case when r.data is null then n else 0 end) as bigint),
			cast(coalesce(sum(length(r.data)), 0) as bigint), min(s.hour), max(s.hour) from hour_sum s left join raw r on r.sensor = s.sensor and r.hour = s.hour group by s.sensor order by s.sensor`)
	})
	return out, err
}
