package sqlcommon

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"

	"underlamp/store"
	"underlamp/store/packed"
)

// lastInstant is the end of the year 9999: what lies beyond is a broken clock.
const lastInstant = 253402300800 * store.Second

// foldAtOnce is about how many readings a fold takes.
const foldAtOnce = 400_000

// Append keeps readings.
func (db *DB) Append(ctx context.Context, readings []store.Reading) error {
	if len(readings) == 0 {
		return nil
	}
	for i, r := range readings {
		switch {
		case math.IsNaN(r.Value) || math.IsInf(r.Value, 0):
			return fmt.Errorf("reading %d of %d, of sensor %d, is no number", i+1, len(readings), r.Sensor)
		case r.Sensor <= 0:
			return fmt.Errorf("reading %d of %d is of no sensor", i+1, len(readings))
		case r.At < 0 || r.At >= lastInstant:
			return fmt.Errorf("reading %d of %d, of sensor %d, is of the year %d: look at the clock of the sensor", i+1, len(readings), r.Sensor, store.Time(r.At).Year())
		}
	}
	data, first, last, n := packBatch(readings)
	return db.change(ctx, "keep readings", func(tx *sql.Tx) error {
		_, err := db.exec(ctx, tx, `insert into batch (first_at, last_at, n, data) values (?, ?, ?, ?)`, first, last, n, data)
		return err
	})
}

// packBatch packs readings by sensor: id, length of the block, block. It leaves them in
// the order of sensors and times; of two of one instant the later in the list counts.
func packBatch(readings []store.Reading) (data []byte, first, last int64, n int) {
	in := slices.Clone(readings)
	slices.SortStableFunc(in, func(a, b store.Reading) int {
		return cmp.Or(cmp.Compare(a.Sensor, b.Sensor), cmp.Compare(a.At, b.At))
	})
	first, last = in[0].At, in[0].At
	for _, r := range in {
		first, last = min(first, r.At), max(last, r.At)
	}
	var samples []packed.Sample
	var block []byte
	for from := 0; from < len(in); {
		sensor := in[from].Sensor
		samples = samples[:0]
		for ; from < len(in) && in[from].Sensor == sensor; from++ {
			s := packed.Sample{At: in[from].At, Value: in[from].Value}
			if k := len(samples); k > 0 && samples[k-1].At == s.At {
				samples[k-1] = s
			} else {
				samples = append(samples, s)
			}
		}
		block = packed.Encode(block[:0], first, samples)
		data = binary.AppendUvarint(data, uint64(sensor))
		data = binary.AppendUvarint(data, uint64(len(block)))
		data = append(data, block...)
		n += len(samples)
	}
	return data, first, last, n
}

var errBatch = errors.New("a batch is damaged")

// unpackBatch calls take for each sensor of a batch; only that one if only is not 0.
func unpackBatch(data []byte, first, only int64, take func(sensor int64, samples []packed.Sample)) error {
	for len(data) > 0 {
		sensor, a := binary.Uvarint(data)
		if a <= 0 {
			return errBatch
		}
		size, b := binary.Uvarint(data[a:])
		if b <= 0 || size > uint64(len(data)-a-b) {
			return errBatch
		}
		block := data[a+b : a+b+int(size)]
		data = data[a+b+int(size):]
		if only != 0 && int64(sensor) != only {
			continue
		}
		samples, err := packed.Decode(nil, first, block)
		if err != nil {
			return fmt.Errorf("%w: %w", errBatch, err)
		}
		take(int64(sensor), samples)
	}
	return nil
}

// floor is the multiple of width at or before an instant.
func floor(at, width int64) int64 {
	q := at / width
	if at%width < 0 {
		q--
	}
	return q * width
}

// cut is the part of samples from an instant to before another.
func cut(samples []packed.Sample, from, to int64) []packed.Sample {
	at := func(t int64) int {
		i, _ := slices.BinarySearchFunc(samples, t, func(s packed.Sample, t int64) int { return cmp.Compare(s.At, t) })
		return i
	}
	return samples[at(from):at(to)]
}

// Fold packs batches into blocks.
func (db *DB) Fold(ctx context.Context) (int, error) {
	total := 0
	err := db.change(ctx, "pack readings", func(tx *sql.Tx) error {
		if err := db.alone(ctx, tx, "fold"); err != nil {
			return err
		}
		total = 0
		var seqs []int64
		fresh := map[int64][]packed.Sample{}
		// The rows are closed before anything else is asked of the connection.
		done := errors.New("enough")
		err := db.each(ctx, tx, func(rows *sql.Rows) error {
			var seq, first int64
			var n int
			var data []byte
			if err := rows.Scan(&seq, &first, &n, &data); err != nil {
				return err
			}
			err := unpackBatch(data, first, 0, func(sensor int64, samples []packed.Sample) {
				if old := fresh[sensor]; len(old) == 0 || old[len(old)-1].At < samples[0].At {
					fresh[sensor] = append(old, samples...)
				} else {
					fresh[sensor] = packed.Merge(nil, old, samples)
				}
			})
			if err != nil {
				return fmt.Errorf("batch %d: %w", seq, err)
			}
			seqs = append(seqs, seq)
			if total += n; total >= foldAtOnce {
				return done
			}
			return nil
		}, `select seq, first_at, n, data from batch order by seq`)
		if err != nil && err != done {
			return err
		}
		sensors := make([]int64, 0, len(fresh))
		for s := range fresh {
			sensors = append(sensors, s)
		}
		slices.Sort(sensors)
		// What was forgotten of a sensor is known before its hours are folded.
		before := map[int64]int64{}
		err = db.each(ctx, tx, func(rows *sql.Rows) error {
			var sensor, hour int64
			if err := rows.Scan(&sensor, &hour); err != nil {
				return err
			}
			before[sensor] = hour
			return nil
		}, `select sensor, before_hour from forgotten`)
		if err != nil {
			return err
		}
		f := folder{hours: hours{ctx: ctx, db: db, tx: tx}, before: before}
		defer f.close()
		for _, sensor := range sensors {
			for s := fresh[sensor]; len(s) > 0; {
				hour := floor(s[0].At, store.Hour)
				mine := cut(s, hour, hour+store.Hour)
				s = s[len(mine):]
				if err := f.fold(sensor, hour, mine); err != nil {
					return err
				}
			}
		}
		del, err := tx.PrepareContext(ctx, db.text(`delete from batch where seq = ?`))
		if err != nil {
			return err
		}
		defer del.Close()
		for _, seq := range seqs {
			if _, err := del.ExecContext(ctx, seq); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return total, nil
}

// Hours enters hours of sensors: sums, and packed readings.
type hours struct {
	ctx  context.Context
	db   *DB
	tx   *sql.Tx
	sum  *sql.Stmt
	raw  *sql.Stmt
	room map[int64]bool // parts that are there
	data []byte
}

func (h *hours) close() {
	for _, s := range []*sql.Stmt{h.sum, h.raw} {
		if s != nil {
			s.Close()
		}
	}
}

// put enters an hour in place of what there was of it, or a sum alone if there are no
// samples.
func (h *hours) put(sensor int64, b store.Bucket, samples []packed.Sample) error {
	var err error
	if h.sum == nil {
		h.sum, err = h.tx.PrepareContext(h.ctx, h.db.text(`insert into hour_sum (sensor, hour, n, least, most, total, first, last) values (?, ?, ?, ?, ?, ?, ?, ?)
			on conflict (sensor, hour) do update set n = excluded.n, least = excluded.least, most = excluded.most, total = excluded.total, first = excluded.first, last = excluded.last`))
		if err != nil {
			return err
		}
		h.raw, err = h.tx.PrepareContext(h.ctx, h.db.text(`insert into raw (sensor, hour, data) values (?, ?, ?) on conflict (sensor, hour) do update set data = excluded.data`))
		if err != nil {
			return err
		}
	}
	if _, err := h.sum.ExecContext(h.ctx, sensor, b.From, b.N, b.Min, b.Max, b.Sum, b.First, b.Last); err != nil || len(samples) == 0 {
		return err
	}
	if part := floor(b.From, PartWidth) / PartWidth; h.db.d.Room != nil && !h.room[part] {
		if err := h.db.d.Room(h.ctx, h.tx, part); err != nil {
			return err
		}
		if h.room == nil {
			h.room = map[int64]bool{}
		}
		h.room[part] = true
	}
	h.data = packed.Encode(h.data[:0], b.From, samples)
	_, err = h.raw.ExecContext(h.ctx, sensor, b.From, h.data)
	return err
}

// PartWidth is how long the parts are that a [Dialect] may keep packed readings in, in µs.
const PartWidth = 30 * store.Day

// A folder puts samples into hours, with memory that it uses again.
type folder struct {
	hours
	before     map[int64]int64 // by sensor: the hour before which readings were forgotten
	get        *sql.Stmt
	old, whole []packed.Sample
}

func (f *folder) close() {
	f.hours.close()
	if f.get != nil {
		f.get.Close()
	}
}

func (f *folder) fold(sensor, hour int64, fresh []packed.Sample) error {
	if f.get == nil {
		var err error
		f.get, err = f.tx.PrepareContext(f.ctx, f.db.text(`select s.n, r.data from hour_sum s left join raw r on r.sensor = s.sensor and r.hour = s.hour where s.sensor = ? and s.hour = ?`))
		if err != nil {
			return err
		}
	}
	var n int
	var data []byte
	err := f.get.QueryRowContext(f.ctx, sensor, hour).Scan(&n, &data)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		f.old = f.old[:0]
	case err != nil:
		return err
	case data == nil && hour < f.before[sensor]:
		// The readings of this hour were forgotten on purpose; late ones go the same way.
		return nil
	case data == nil:
		return fmt.Errorf("sensor %d, hour %s: its readings are missing", sensor, hourText(hour))
	default:
		if f.old, err = packed.Decode(f.old[:0], hour, data); err != nil {
			return fmt.Errorf("sensor %d, hour %s: %w", sensor, hourText(hour), err)
		}
	}
	f.whole = packed.Merge(f.whole[:0], f.old, fresh)
	if len(f.whole) > packed.Most {
		return fmt.Errorf("sensor %d sent %d readings in the hour of %s; at most %d are kept", sensor, len(f.whole), hourText(hour), packed.Most)
	}
	b := sum(f.whole)
	b.From = hour
	return f.put(sensor, b, f.whole)
}

func hourText(hour int64) string { return store.Time(hour).Format("2006-01-02 15:04") }

func sum(samples []packed.Sample) (b store.Bucket) {
	for _, s := range samples {
		b.Add(s.Value)
	}
	return b
}

// late are the readings of a sensor that are not folded yet, from an instant to before
// another, in order.
func (db *DB) late(ctx context.Context, tx *sql.Tx, sensor, from, to int64) ([]packed.Sample, error) {
	var out []packed.Sample
	err := db.each(ctx, tx, func(rows *sql.Rows) error {
		var first int64
		var data []byte
		if err := rows.Scan(&first, &data); err != nil {
			return err
		}
		return unpackBatch(data, first, sensor, func(_ int64, samples []packed.Sample) {
			samples = cut(samples, from, to)
			switch {
			case len(samples) == 0:
			case len(out) == 0 || out[len(out)-1].At < samples[0].At:
				out = append(out, samples...)
			default:
				out = packed.Merge(nil, out, samples)
			}
		})
	}, `select first_at, data from batch where last_at >= ? and first_at < ? order by seq`, from, to)
	return out, err
}

// Samples are the readings of a sensor.
func (db *DB) Samples(ctx context.Context, sensor, from, to int64) ([]packed.Sample, error) {
	var out []packed.Sample
	err := db.look(ctx, "read readings", func(tx *sql.Tx) error {
		var err error
		out, err = db.samples(ctx, tx, sensor, from, to)
		return err
	})
	return out, err
}

func (db *DB) samples(ctx context.Context, tx *sql.Tx, sensor, from, to int64) ([]packed.Sample, error) {
	var out []packed.Sample
	err := db.each(ctx, tx, func(rows *sql.Rows) error {
		var hour int64
		var data []byte
		if err := rows.Scan(&hour, &data); err != nil {
			return err
		}
		var err error
		if out, err = packed.Decode(out, hour, data); err != nil {
			return fmt.Errorf("sensor %d, hour %s: %w", sensor, hourText(hour), err)
		}
		return nil
	}, `select hour, data from raw where sensor = ? and hour >= ? and hour < ? order by hour`, sensor, floor(from, store.Hour), to)
	if err != nil {
		return nil, err
	}
	late, err := db.late(ctx, tx, sensor, from, to)
	if err != nil {
		return nil, err
	}
	out = cut(out, from, to)
	if len(late) > 0 {
		out = packed.Merge(nil, out, late)
	}
	return out, nil
}

// Buckets sum up the readings of a sensor.
func (db *DB) Buckets(ctx context.Context, sensor, from, to, width int64) ([]store.Bucket, error) {
	if width < store.Second || width%store.Second != 0 {
		return nil, fmt.Errorf("a stretch of %g s is no whole number of seconds", float64(width)/1e6)
	}
	var out []store.Bucket
	err := db.look(ctx, "sum up readings", func(tx *sql.Tx) error {
		var err error
		if width%store.Hour != 0 {
			var all []packed.Sample
			all, err = db.samples(ctx, tx, sensor, from, to)
			out = buckets(nil, all, width)
			return err
		}
		out, err = db.byHour(ctx, tx, sensor, from, to, width)
		return err
	})
	return out, err
}

// buckets sum up samples in order.
func buckets(dst []store.Bucket, samples []packed.Sample, width int64) []store.Bucket {
	for _, s := range samples {
		begin := floor(s.At, width)
		if len(dst) == 0 || dst[len(dst)-1].From != begin {
			dst = append(dst, store.Bucket{From: begin})
		}
		dst[len(dst)-1].Add(s.Value)
	}
	return dst
}

// byHour joins the sums by hour; hours that the ends cut, and hours with readings that
// are not folded yet, are summed up from the readings.
func (db *DB) byHour(ctx context.Context, tx *sql.Tx, sensor, from, to, width int64) ([]store.Bucket, error) {
	late, err := db.late(ctx, tx, sensor, from, to)
	if err != nil {
		return nil, err
	}
	// Hours to be summed up from their readings, each with those that are not folded.
	anew := map[int64][]packed.Sample{}
	for rest := late; len(rest) > 0; {
		hour := floor(rest[0].At, store.Hour)
		mine := cut(rest, hour, hour+store.Hour)
		anew[hour], rest = mine, rest[len(mine):]
	}
	hours := map[int64]store.Bucket{}
	order := make([]int64, 0, 64)
	put := func(hour int64, b store.Bucket) {
		b.From = hour
		hours[hour] = b
		order = append(order, hour)
	}
	var old []packed.Sample
	again := func(first, last int64) error {
		err := db.each(ctx, tx, func(rows *sql.Rows) error {
			var hour int64
			var data []byte
			if err := rows.Scan(&hour, &data); err != nil {
				return err
			}
			fresh, ok := anew[hour]
			if !ok {
				return nil
			}
			var err error
			if old, err = packed.Decode(old[:0], hour, data); err != nil {
				return fmt.Errorf("sensor %d, hour %s: %w", sensor, hourText(hour), err)
			}
			anew[hour] = packed.Merge(nil, cut(old, from, to), fresh)
			return nil
		}, `select hour, data from raw where sensor = ? and hour >= ? and hour <= ?`, sensor, first, last)
		return err
	}
	if len(late) > 0 {
		if err := again(floor(late[0].At, store.Hour), floor(late[len(late)-1].At, store.Hour)); err != nil {
			return nil, err
		}
	}
	for _, end := range [2]int64{from, to} {
		hour := floor(end, store.Hour)
		if _, done := anew[hour]; !done && hour != end {
			anew[hour] = nil
			if err := again(hour, hour); err != nil {
				return nil, err
			}
		}
	}
	for hour, all := range anew {
		if len(all) > 0 {
			put(hour, sum(all))
		}
	}
	err = db.each(ctx, tx, func(rows *sql.Rows) error {
		var b store.Bucket
		if err := rows.Scan(&b.From, &b.N, &b.Min, &b.Max, &b.Sum, &b.First, &b.Last); err != nil {
			return err
		}
		if _, done := anew[b.From]; !done {
			put(b.From, b)
		}
		return nil
	}, `select hour, n, least, most, total, first, last from hour_sum where sensor = ? and hour >= ? and hour < ?`, sensor, floor(from, store.Hour), to)
	if err != nil {
		return nil, err
	}
	slices.Sort(order)
	var out []store.Bucket
	for _, h := range order {
		begin := floor(h, width)
		if len(out) == 0 || out[len(out)-1].From != begin {
			out = append(out, store.Bucket{From: begin})
		}
		out[len(out)-1].Join(hours[h])
	}
	return out, nil
}

// Forget drops readings.
func (db *DB) Forget(ctx context.Context, sensor, before int64) error {
	for {
		n, err := db.Fold(ctx)
		if err != nil {
			return err
		}
		if n == 0 {
			break
		}
	}
	hour := floor(before, store.Hour)
	err := db.change(ctx, "forget readings", func(tx *sql.Tx) error {
		if err := db.alone(ctx, tx, "fold"); err != nil {
			return err
		}
		if _, err := db.exec(ctx, tx, `insert into forgotten (sensor, before_hour) values (?, ?) on conflict (sensor) do update set before_hour = excluded.before_hour where excluded.before_hour > forgotten.before_hour`, sensor, hour); err != nil {
			return err
		}
		_, err := db.exec(ctx, tx, `delete from raw where sensor = ? and hour < ?`, sensor, hour)
		return err
	})
	if err != nil || db.d.Clear == nil {
		return err
	}
	return db.change(ctx, "give room back", func(tx *sql.Tx) error {
		if err := db.alone(ctx, tx, "fold"); err != nil {
			return err
		}
		return db.d.Clear(ctx, tx, hour/PartWidth)
	})
}
