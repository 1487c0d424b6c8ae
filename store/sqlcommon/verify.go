package sqlcommon

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"underlamp/store"
	"underlamp/store/packed"
)

// Verify reads all readings, sensors and observations, and holds every sum against
// the readings it is of.
func (db *DB) Verify(ctx context.Context) ([]store.Fault, error) {
	var out []store.Fault
	fault := func(where, what, mend string) { out = append(out, store.Fault{Where: where, What: what, Mend: mend}) }
	const restore = "restore a backup into an empty store; what lies beside this one can still be exported"
	err := db.look(ctx, "verify", func(tx *sql.Tx) error {
		known := map[int64]bool{}
		err := db.each(ctx, tx, func(rows *sql.Rows) error {
			var id int64
			var key, doc string
			if err := rows.Scan(&id, &key, &doc); err != nil {
				return err
			}
			known[id] = true
			if !json.Valid([]byte(doc)) {
				fault(fmt.Sprintf("sensor %q", key), "its entry cannot be read", "enter the sensor anew under the same name")
			}
			return nil
		}, `select id, name, doc from sensor`)
		if err != nil {
			return err
		}
		unknown := map[int64]bool{}
		stranger := func(sensor int64) {
			if !known[sensor] && !unknown[sensor] {
				unknown[sensor] = true
				fault(fmt.Sprintf("sensor %d", sensor), "there are readings of it, and no entry", "enter the sensor, or forget its readings")
			}
		}
		var samples []packed.Sample
		err = db.each(ctx, tx, func(rows *sql.Rows) error {
			var sensor, hour int64
			var b store.Bucket
			var data []byte
			var forgotten int64
			if err := rows.Scan(&sensor, &hour, &b.N, &b.Min, &b.Max, &b.Sum, &b.First, &b.Last, &data, &forgotten); err != nil {
				return err
			}
			stranger(sensor)
			where := fmt.Sprintf("sensor %d, hour of %s", sensor, hourText(hour))
			switch {
			case data == nil && hour >= forgotten:
				fault(where, "its readings are missing", restore)
				return nil
			case data == nil:
				return nil // forgotten on purpose
			}
			var err error
			if samples, err = packed.Decode(samples[:0], hour, data); err != nil {
				fault(where, "its readings cannot be read: "+err.Error(), restore)
				return nil
			}
			if len(samples) == 0 || samples[0].At < hour || samples[len(samples)-1].At >= hour+store.Hour {
				fault(where, "it holds readings of another hour", restore)
			}
			if got := sum(samples); got != b {
				fault(where, fmt.Sprintf("its sums do not match its readings: %d readings from %g to %g, and %d from %g to %g", b.N, b.Min, b.Max, got.N, got.Min, got.Max), restore)
			}
			return nil
		}, hoursQuery)
		if err != nil {
			return err
		}
		err = db.each(ctx, tx, func(rows *sql.Rows) error {
			var sensor, hour int64
			if err := rows.Scan(&sensor, &hour); err != nil {
				return err
			}
			fault(fmt.Sprintf("sensor %d, hour of %s", sensor, hourText(hour)), "there are readings, and no sum of them", restore)
			return nil
		}, `select r.sensor, r.hour from raw r where not exists (select 1 from hour_sum s where s.sensor = r.sensor and s.hour = r.hour)`)
		if err != nil {
			return err
		}
		err = db.each(ctx, tx, func(rows *sql.Rows) error {
			var seq, first int64
			var n, got int
			var data []byte
			if err := rows.Scan(&seq, &first, &n, &data); err != nil {
				return err
			}
			err := unpackBatch(data, first, 0, func(sensor int64, samples []packed.Sample) {
				stranger(sensor)
				got += len(samples)
			})
			if err != nil {
				fault(fmt.Sprintf("batch %d", seq), "its readings cannot be read: "+err.Error(), restore)
			} else if got != n {
				fault(fmt.Sprintf("batch %d", seq), fmt.Sprintf("it holds %d readings, and should hold %d", got, n), restore)
			}
			return nil
		}, `select seq, first_at, n, data from batch order by seq`)
		if err != nil {
			return err
		}
		return db.each(ctx, tx, func(rows *sql.Rows) error {
			var id, corrects string
			var doc []byte
			if err := rows.Scan(&id, &corrects, &doc); err != nil {
				return err
			}
			if !json.Valid(doc) {
				fault(fmt.Sprintf("observation %q", id), "it cannot be read", restore)
			}
			return nil
		}, `select id, corrects, doc from observation order by id`)
	})
	return out, err
}
