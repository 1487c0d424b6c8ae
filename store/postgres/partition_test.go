package postgres_test

import (
	"context"
	"database/sql"
	"fmt"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"

	"underlamp/internal/pgtest"
)

// BenchmarkForget measures what partitions would bring to retention: the readings of 20
// sensors of all but the last month of a year are forgotten, their sums by hour stay. Plain
// is the layout that is used; in parts has the same table in parts by month; apart has the
// packed readings in a table of their own, in parts by month that are dropped, which can
// be done only where all sensors are kept equally long.
//
//	go test -run '^$' -bench Forget -benchtime 1x ./store/postgres
func BenchmarkForget(b *testing.B) {
	const (
		hour    = int64(3_600_000_000)
		sensors = 20
		month   = 730 * hour
	)
	fill := `select s, h * 3600000000 as h, 600 as n, 1 as least, 2 as most, 900 as total, 1 as first, 2 as last, (select string_agg(decode(md5(random()::text || k), 'hex'), ''::bytea) from generate_series(1, 45) k where k > -h) as data from generate_series(1, 20) s, generate_series(0, 8759) h`
	sums := `sensor bigint not null, hour bigint not null, n bigint not null, least double precision not null, most double precision not null, total double precision not null, first double precision not null, last double precision not null`
	parts := func(table string) (out []string) {
		for m := range int64(12) {
			out = append(out, fmt.Sprintf(`create table %s_%d partition of %s for values from (%d) to (%d)`, table, m, table, m*month, (m+1)*month))
		}
		return out
	}
	for _, c := range []struct {
		name           string
		make           []string
		forget         []string
		chart, samples string
	}{
		{"plain", []string{
			`create table block (` + sums + `, data bytea, primary key (sensor, hour))`,
			`insert into block ` + fill,
		}, []string{fmt.Sprintf(`update block set data = null where hour < %d and data is not null`, 11*month)}, `block`, `block`},
		{"in parts", append(append([]string{
			`create table block (` + sums + `, data bytea, primary key (sensor, hour)) partition by range (hour)`,
		}, parts("block")...), `insert into block `+fill),
			[]string{fmt.Sprintf(`update block set data = null where hour < %d and data is not null`, 11*month)}, `block`, `block`},
		{"apart", append(append([]string{
			`create table block (` + sums + `, primary key (sensor, hour))`,
			`create table raw (sensor bigint not null, hour bigint not null, data bytea not null, primary key (sensor, hour)) partition by range (hour)`,
		}, parts("raw")...),
			`create temporary table made as `+fill,
			`insert into block select s, h, 600, 1, 2, 900, 1, 2 from made`,
			`insert into raw select s, h, data from made`,
		), []string{`drop table raw_0, raw_1, raw_2, raw_3, raw_4, raw_5, raw_6, raw_7, raw_8, raw_9, raw_10`}, `block`, `raw`},
	} {
		b.Run(c.name, func(b *testing.B) {
			ctx := context.Background()
			db, err := sql.Open("pgx", pgtest.Start(b).Database(b))
			if err != nil {
				b.Fatal(err)
			}
			defer db.Close()
			db.SetMaxOpenConns(1)
			do := func(queries ...string) time.Duration {
				begin := time.Now()
				for _, q := range queries {
					if _, err := db.ExecContext(ctx, q); err != nil {
						b.Fatalf("%s: %v", q, err)
					}
				}
				return time.Since(begin)
			}
			size := func() (n float64) {
				if err := db.QueryRowContext(ctx, `select pg_database_size(current_database()) / 1e6`).Scan(&n); err != nil {
					b.Fatal(err)
				}
				return n
			}
			wal := func() (n float64) {
				if err := db.QueryRowContext(ctx, `select (pg_current_wal_lsn() - '0/0'::pg_lsn) / 1e6`).Scan(&n); err != nil {
					b.Fatal(err)
				}
				return n
			}
			for b.Loop() {
				b.ReportMetric(do(c.make...).Seconds(), "s/fill")
				do(`drop table if exists made`, `vacuum analyze`, `checkpoint`)
				chart := do(`select * from (select hour, n, least, most, total, first, last from ` + c.chart + ` where sensor = 7) x offset 9000`)
				b.ReportMetric(chart.Seconds()*1e3, "ms/year-by-hour")
				before, logged := size(), wal()
				b.ReportMetric(do(c.forget...).Seconds(), "s/forget")
				b.ReportMetric(wal()-logged, "MB-log/forget")
				b.ReportMetric(do(`vacuum`).Seconds(), "s/vacuum")
				b.ReportMetric(before, "MB/before")
				b.ReportMetric(size(), "MB/after")
			}
			b.ReportMetric(0, "ns/op")
		})
	}
}
