package sqlite_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"testing"

	"underlamp/store"
	"underlamp/store/sqlite"
	"underlamp/store/storetest"
)

func open(t testing.TB, path string) *sqlite.DB {
	t.Helper()
	s, err := sqlite.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store { return open(t, filepath.Join(t.TempDir(), "here", "a b ü?.db")) })
}

// A copy made while the store is in use holds what it held, and opens as a store.
func TestBackup(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	s := open(t, filepath.Join(folder, "live.db"))
	id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
	if err != nil {
		t.Fatal(err)
	}
	var rs []store.Reading
	for i := range 5000 {
		rs = append(rs, store.Reading{Sensor: id, At: int64(i) * store.Minute, Value: float64(i % 7)})
	}
	if err := s.Append(ctx, rs[:4000]); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Fold(ctx); err != nil {
		t.Fatal(err)
	}
	if err := s.Append(ctx, rs[4000:]); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(folder, "copy.db")
	if err := s.Backup(ctx, to); err != nil {
		t.Fatal(err)
	}
	if err := s.Backup(ctx, to); err == nil {
		t.Error("a copy was written over another")
	}
	if err := s.Append(ctx, []store.Reading{{Sensor: id, At: 1, Value: 1}}); err != nil {
		t.Fatal(err)
	}
	c := open(t, to)
	got, err := c.Samples(ctx, id, 0, store.Day*1000)
	if faults, verr := c.Verify(ctx); err != nil || len(got) != 5000 || verr != nil || len(faults) > 0 {
		t.Errorf("%d samples, %v; %v %v", len(got), err, faults, verr)
	}
}

// Every table that the migrations make is handed over by Dump, with all its columns; the
// readings go as hours.
func TestDumpForgetsNoTable(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "here.db")
	s := open(t, path)
	raw, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	rows, err := raw.QueryContext(ctx, `select m.name, c.name from sqlite_master m, pragma_table_info(m.name) c where m.type = 'table' and m.name not like 'sqlite%' and m.name not like 'goose%'`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	handed := map[string]bool{}
	for _, x := range s.Tables() {
		for _, c := range x.Columns {
			handed[x.Name+"."+c.Name] = true
		}
	}
	there := map[string]bool{}
	for rows.Next() {
		var table, column string
		if err := rows.Scan(&table, &column); err != nil {
			t.Fatal(err)
		}
		if there[table+"."+column] = true; !handed[table+"."+column] && table != "block" && table != "batch" {
			t.Errorf("%s.%s is in no copy of the whole: add it to keeps in store/sqlcommon/whole.go", table, column)
		}
	}
	if err := rows.Err(); err != nil || len(there) < 20 {
		t.Errorf("%d columns found, %v", len(there), err)
	}
	for c := range handed {
		if !there[c] {
			t.Errorf("%s is handed over and does not exist", c)
		}
	}
}

func BenchmarkStore(b *testing.B) {
	storetest.Bench(b, func(b *testing.B) store.Store { return open(b, filepath.Join(b.TempDir(), "bench.db")) })
}
