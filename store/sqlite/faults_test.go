package sqlite_test

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"underlamp/store"
	"underlamp/store/packed"
	"underlamp/store/sqlite"
	"underlamp/store/storetest"
)

var kills = flag.Int("kills", 25, "how often TestKilled kills the writer")

// The test program is its own victim: with these words in the environment it appends
// and packs until it is killed, and says on its output what was acknowledged.
func TestMain(m *testing.M) {
	if path := os.Getenv("UNDERLAMP_VICTIM"); path != "" {
		victim(path)
	}
	slog.SetDefault(slog.New(slog.DiscardHandler)) // every kill brings a store up to date
	os.Exit(m.Run())
}

func victim(path string) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, path)
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	if os.Getenv("UNDERLAMP_NEXT") == "" { // it was to bring the store up to date
		fmt.Println("done")
		select {}
	}
	id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	next, err := strconv.ParseInt(os.Getenv("UNDERLAMP_NEXT"), 10, 64)
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	for k := 0; ; k++ {
		var rs []store.Reading
		for range 20 {
			rs = append(rs, store.Reading{Sensor: id, At: next * store.Second, Value: float64(next % 1000)})
			next++
		}
		if err := s.Append(ctx, rs); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println(next)
		if k%7 == 6 {
			if _, err := s.Fold(ctx); err != nil {
				fmt.Println("error", err)
				os.Exit(1)
			}
		}
	}
}

// Killed at any moment, while it makes its tables, keeps or packs, a store opens
// again, agrees with itself, and has every reading that was acknowledged, once.
func TestKilled(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "killed.db")
	me, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(3, 4))
	next := int64(0)
	for round := range *kills {
		c := exec.Command(me)
		c.Env = append(os.Environ(), "UNDERLAMP_VICTIM="+path, "UNDERLAMP_NEXT="+strconv.FormatInt(next, 10))
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		// Some are killed before they have done anything, some in the middle of it.
		wait := time.Duration(r.ExpFloat64() * float64(60*time.Millisecond))
		kill := time.AfterFunc(wait, func() { c.Process.Kill() })
		acknowledged := next
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			n, err := strconv.ParseInt(lines.Text(), 10, 64)
			if err != nil {
				t.Fatalf("round %d: %s", round, lines.Text())
			}
			acknowledged = n
		}
		c.Wait()
		kill.Stop()

		s := open(t, path)
		faults, err := s.Verify(ctx)
		if err != nil || len(faults) > 0 {
			t.Fatalf("round %d: %v %v", round, faults, err)
		}
		id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
		if err != nil {
			t.Fatal(err)
		}
		got, err := s.Samples(ctx, id, 0, store.Day*1000)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range got {
			if x.At != int64(i)*store.Second || x.Value != float64(i%1000) {
				t.Fatalf("round %d: sample %d is %+v", round, i, x)
			}
		}
		// A batch may have been kept and not yet been said so.
		if n := int64(len(got)); n < acknowledged || n%20 != 0 {
			t.Fatalf("round %d: %d readings are there, %d were acknowledged", round, n, acknowledged)
		}
		next = int64(len(got))
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills, %d readings", *kills, next)
}

// Killed at any moment while it brings a store of the first version up to date, the next
// start finds the store as it was or as it will be, with all that was in it, and goes on;
// the copy of the store as it was is whole.
func TestKilledWhileBroughtUpToDate(t *testing.T) {
	ctx := context.Background()
	me, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(5, 6))
	folder := t.TempDir()
	old := filepath.Join(folder, "old.db")
	if err := sqlite.MakeVersion(ctx, old, 1); err != nil {
		t.Fatal(err)
	}
	raw, err := sql.Open("sqlite", old)
	if err != nil {
		t.Fatal(err)
	}
	const rows = 5_000
	if _, err := raw.Exec(`with recursive n(i) as (select 1 union all select i + 1 from n where i < ?)
		insert into observation select 'o' || i, 'top', i, i, '', 0, cast('{"mass_g":12}' as blob) from n`, rows); err != nil {
		t.Fatal(err)
	}
	if err := raw.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(old)
	if err != nil {
		t.Fatal(err)
	}
	early, late := 0, 0
	whole := func(what, path string) {
		t.Helper()
		s := open(t, path)
		seen, err := s.Observations(ctx, "top", 0, rows+1)
		faults, verr := s.Verify(ctx)
		if err != nil || len(seen) != rows || verr != nil || len(faults) > 0 {
			t.Fatalf("%s: %d observations of %d, %v; %v %v", what, len(seen), rows, err, faults, verr)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for round := range *kills {
		path := filepath.Join(folder, fmt.Sprintf("%d.db", round))
		if err := os.WriteFile(path, before, 0o644); err != nil {
			t.Fatal(err)
		}
		c := exec.Command(me)
		c.Env = append(os.Environ(), "UNDERLAMP_VICTIM="+path)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		kill := time.AfterFunc(10*time.Millisecond+time.Duration(r.Float64()*float64(70*time.Millisecond)), func() { c.Process.Kill() })
		if bufio.NewScanner(out).Scan() {
			late++
		} else {
			early++
		}
		c.Wait()
		kill.Stop()
		whole(fmt.Sprintf("round %d", round), path)
		copies, err := filepath.Glob(path + ".before-version-*")
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range copies {
			if strings.HasSuffix(name, ".part") {
				continue // the next try takes it away
			}
			whole(fmt.Sprintf("copy of round %d", round), name)
		}
		if found, err := filepath.Glob(path + "*"); err == nil {
			for _, name := range found {
				os.Remove(name)
			}
		}
	}
	t.Logf("%d kills: %d before it was up to date, %d after", *kills, early, late)
}

// Bytes of the file are changed at random: the store is refused, or Verify tells, or all
// readings are as they were. Never is a wrong one taken for a reading.
func TestBytesChanged(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	path := filepath.Join(folder, "well.db")
	s := open(t, path)
	var ids []int64
	for _, key := range []string{"a", "b", "c"} {
		id, err := s.PutSensor(ctx, store.Sensor{Key: key, Unit: "Cel"})
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, id)
	}
	r := rand.New(rand.NewPCG(7, 8))
	for h := range int64(60) {
		var rs []store.Reading
		for _, id := range ids {
			for m := range int64(30) {
				rs = append(rs, store.Reading{Sensor: id, At: h*store.Hour + m*2*store.Minute + r.Int64N(1000), Value: float64(r.IntN(300)) / 10})
			}
		}
		if err := s.Append(ctx, rs); err != nil {
			t.Fatal(err)
		}
		if h == 40 {
			drain(t, s)
		}
	}
	want := map[int64][]packed.Sample{}
	for _, id := range ids {
		got, err := s.Samples(ctx, id, 0, store.Day*100)
		if err != nil {
			t.Fatal(err)
		}
		want[id] = got
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	refused, told, harmless := 0, 0, 0
	for round := range 4 * *kills {
		bad := slices.Clone(whole)
		for range 1 + r.IntN(3) {
			bad[r.IntN(len(bad))] ^= byte(1 + r.IntN(255))
		}
		path := filepath.Join(folder, fmt.Sprintf("%d.db", round))
		if err := os.WriteFile(path, bad, 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := sqlite.Open(ctx, path)
		if err != nil {
			refused++
			continue
		}
		faults, verr := s.Verify(ctx)
		same := true
		for _, id := range ids {
			got, err := s.Samples(ctx, id, 0, store.Day*100)
			same = same && err == nil && slices.Equal(got, want[id])
			if verr == nil && len(faults) == 0 && !same {
				t.Errorf("round %d: %d readings of %d, %v, and nobody is told", round, len(got), len(want[id]), err)
			}
		}
		if verr != nil || len(faults) > 0 {
			told++
		} else {
			harmless++
		}
		s.Close()
		os.Remove(path)
	}
	t.Logf("%d files with changed bytes: %d not opened, %d told by verify, %d with all readings as they were", 4**kills, refused, told, harmless)
}

// Where no room is left the call fails, and what was there stays and can be read. The
// file may grow no further: the limit of SQLite itself stands for a full disk.
func TestFull(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "full.db")
	s := open(t, path)
	id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
	if err != nil {
		t.Fatal(err)
	}
	if err := sqlite.LimitPages(s, 40); err != nil {
		t.Fatal(err)
	}
	kept := int64(0)
	for err == nil {
		var rs []store.Reading
		for range 500 {
			rs = append(rs, store.Reading{Sensor: id, At: (kept + int64(len(rs))) * store.Second, Value: rand.Float64()})
		}
		if err = s.Append(ctx, rs); err == nil {
			kept += 500
		}
		if kept > 1e6 {
			t.Fatal("the limit does not bind")
		}
	}
	if !strings.Contains(err.Error(), "full") {
		t.Errorf("the error does not say that the disk is full: %v", err)
	}
	got, err := s.Samples(ctx, id, 0, store.Day*1000)
	faults, verr := s.Verify(ctx)
	if err != nil || int64(len(got)) != kept || kept == 0 || verr != nil || len(faults) > 0 {
		t.Errorf("%d readings of %d, %v; %v %v", len(got), kept, err, faults, verr)
	}
	if err := sqlite.LimitPages(s, 10000); err != nil {
		t.Fatal(err)
	}
	if n, err := s.Fold(ctx); err != nil || int64(n) != kept {
		t.Errorf("with room again %d are packed, %v", n, err)
	}
}

// Damage is found and named, or the file refused; never taken for data.
func TestDamaged(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "damaged.db")
	s := open(t, path)
	id, err := s.PutSensor(ctx, store.Sensor{Key: "one"})
	if err != nil {
		t.Fatal(err)
	}
	for i := range int64(3) {
		if err := s.Append(ctx, []store.Reading{{Sensor: id, At: i * store.Hour, Value: 20.5}, {Sensor: id, At: i*store.Hour + 5, Value: 21}}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Fold(ctx); err != nil {
		t.Fatal(err)
	}
	if err := s.Append(ctx, []store.Reading{{Sensor: id, At: 9 * store.Hour, Value: 1}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	raw, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{
		`update raw set data = x'0102' where hour = 0`,
		fmt.Sprintf(`update hour_sum set most = 99 where hour = %d`, store.Hour),
		`update batch set n = 7`,
		`insert into observation values ('a', 'b', 1, 1, '', 0, cast('{broken' as blob))`,
		`update sensor set doc = '{'`,
	} {
		if _, err := raw.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if err := raw.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, path)
	faults, err := s.Verify(ctx)
	if err != nil || len(faults) != 5 {
		t.Errorf("%d faults, want 5: %+v (%v)", len(faults), faults, err)
	}
	for _, f := range faults {
		if f.Where == "" || f.What == "" || f.Mend == "" {
			t.Errorf("%+v says too little", f)
		}
	}
	if _, err := s.Samples(ctx, id, 0, store.Day); err == nil || !strings.Contains(err.Error(), "1970-01-01 00:00") {
		t.Errorf("a damaged hour was read: %v", err)
	}
	// A file that is none.
	junk := filepath.Join(t.TempDir(), "junk.db")
	if err := os.WriteFile(junk, []byte(strings.Repeat("no database, ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlite.Open(ctx, junk); err == nil || !strings.Contains(err.Error(), "junk.db") {
		t.Errorf("a file that is no store: %v", err)
	}
}

// A store of the first version, with data in it, is brought up to date; a copy of it as
// it was lies beside, and everything is still there.
func TestFromTheFirstVersion(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "old.db")
	if err := sqlite.MakeVersion(ctx, path, 1); err != nil {
		t.Fatal(err)
	}
	raw, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{
		`insert into sensor (id, name, doc) values (4, 'rack/air', '{"unit":"Cel"}')`,
		`insert into bench values ('top', 1, 100, 100, 'a', cast('lamps' as blob))`,
		`insert into observation values ('a', 'top', 1, 1, '', 0, cast('{}' as blob))`,
	} {
		if _, err := raw.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if err := raw.Close(); err != nil {
		t.Fatal(err)
	}
	s := open(t, path)
	sensor, err := s.Sensor(ctx, "rack/air")
	bench, berr := s.Bench(ctx, "top", 200)
	seen, serr := s.Observations(ctx, "top", 0, 10)
	if err != nil || sensor.ID != 4 || sensor.Unit != "Cel" || berr != nil || string(bench.Text) != "lamps" || serr != nil || len(seen) != 1 {
		t.Errorf("%+v %v, %+v %v, %v %v", sensor, err, bench, berr, seen, serr)
	}
	if err := s.AddDevice(ctx, store.Device{Name: "new"}, [32]byte{1}); err != nil {
		t.Error(err)
	}
	copies, err := filepath.Glob(path + ".before-version-*")
	if err != nil || len(copies) != 1 {
		t.Errorf("copies %v, %v", copies, err)
	}
}

// A store of the version in which sums and readings lay together keeps both.
func TestFromTogether(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "old.db")
	if err := sqlite.MakeVersion(ctx, path, 3); err != nil {
		t.Fatal(err)
	}
	raw, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	tx, err := raw.Begin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(`insert into sensor (id, name, doc) values (1, 'a', '{}'), (2, 'b', '{}')`); err != nil {
		t.Fatal(err)
	}
	storetest.Together(t, func(sensor, hour int64, b store.Bucket, data []byte) {
		if _, err := tx.Exec(`insert into block values (?, ?, ?, ?, ?, ?, ?, ?, ?)`, sensor, hour, b.N, b.Min, b.Max, b.Sum, b.First, b.Last, data); err != nil {
			t.Fatal(err)
		}
	}, func() store.Store {
		if err := errors.Join(tx.Commit(), raw.Close()); err != nil {
			t.Fatal(err)
		}
		return open(t, path)
	})
}
