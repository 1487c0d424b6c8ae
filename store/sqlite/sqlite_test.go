package sqlite_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

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

// While a copy is made readings are taken; it holds all that were acknowledged before, and
// none in part.
func TestBackupBesideIntake(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	s := open(t, filepath.Join(folder, "live.db"))
	id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
	if err != nil {
		t.Fatal(err)
	}
	const batch = 10
	var kept atomic.Int64
	stop, over := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(over)
		for n := int64(0); ; n++ {
			select {
			case <-stop:
				return
			default:
			}
			var rs []store.Reading
			for i := range int64(batch) {
				rs = append(rs, store.Reading{Sensor: id, At: (n*batch + i) * store.Second, Value: 1})
			}
			if err := s.Append(ctx, rs); err != nil {
				t.Error(err)
				return
			}
			kept.Store(n + 1)
			if n%50 == 49 {
				if _, err := s.Fold(ctx); err != nil {
					t.Error(err)
				}
			}
		}
	}()
	for k := range 8 {
		for from := kept.Load(); kept.Load() < from+20 && !t.Failed(); {
			time.Sleep(time.Millisecond)
		}
		before := kept.Load()
		to := filepath.Join(folder, fmt.Sprint(k, ".db"))
		if err := s.Backup(ctx, to); err != nil {
			t.Fatal(err)
		}
		after := kept.Load() + 1 // one may be on its way
		c := open(t, to)
		got, err := c.Samples(ctx, id, 0, store.Day*1000)
		faults, verr := c.Verify(ctx)
		if n := int64(len(got)); err != nil || verr != nil || len(faults) > 0 || n%batch != 0 || n < before*batch || n > after*batch {
			t.Errorf("copy %d has %d readings, of %d to %d; %v %v %v", k, n, before*batch, after*batch, err, verr, faults)
		}
	}
	close(stop)
	<-over
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
		if there[table+"."+column] = true; !handed[table+"."+column] && !slices.Contains([]string{"hour_sum", "raw", "forgotten", "batch"}, table) {
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

// The same readings by Append and by the engine's own tool. Its file is brought to the disk
// once, at the end.
func BenchmarkBesidePlain(b *testing.B) {
	tool, err := exec.LookPath("sqlite3")
	if err != nil {
		b.Skip("the tool sqlite3 is not installed (Debian: apt-get install sqlite3)")
	}
	storetest.Beside(b, func(b *testing.B) store.Store { return open(b, filepath.Join(b.TempDir(), "ours.db")) }, func(b *testing.B, file string) int64 {
		path := filepath.Join(b.TempDir(), "plain.db")
		c := exec.Command(tool, path, "pragma journal_mode = wal; pragma synchronous = full; create table reading (sensor integer, at integer, value real, primary key (sensor, at)) without rowid;", ".mode csv", ".import "+file+" reading")
		if out, err := c.CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
		info, err := os.Stat(path)
		if err != nil {
			b.Fatal(err)
		}
		return info.Size()
	})
}
