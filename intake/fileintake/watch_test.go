package fileintake_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"underlamp/intake"
	"underlamp/intake/fileintake"
	"underlamp/store"
	"underlamp/store/sqlite"
)

var now = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

// A bench of files: a folder, a store, and a clock of its own for the files.
type place struct {
	t     *testing.T
	dir   string
	db    *sqlite.DB
	taker *taker
	opt   fileintake.Options
	log   bytes.Buffer
	watch *fileintake.Watch
	clock time.Time // of the files
	now   time.Time // of the program
}

// A taker may be told to fail, and counts what it is given.
type taker struct {
	*intake.Intake
	fail  bool
	taken int
}

func (k *taker) Take(ctx context.Context, rs []intake.Reading) error {
	if k.fail {
		return errors.New("no room on the disk")
	}
	k.taken += len(rs)
	return k.Intake.Take(ctx, rs)
}

func newPlace(t *testing.T, opt fileintake.Options) *place {
	t.Helper()
	db, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "store.db"))
	if err != nil {
		t.Fatal(err)
	}
	p := &place{t: t, dir: t.TempDir(), db: db, opt: opt, clock: now.Add(-time.Hour), now: now}
	in := intake.New(db, intake.Options{Now: func() time.Time { return p.now }})
	p.taker = &taker{Intake: in}
	t.Cleanup(func() {
		in.Close()
		db.Close()
	})
	p.start()
	return p
}

// start begins anew, as after a new start of the program.
func (p *place) start() {
	o := p.opt
	o.Log = slog.New(slog.NewTextHandler(&p.log, nil))
	o.Now = func() time.Time { return p.now }
	p.watch = fileintake.New(os.DirFS(p.dir), p.taker, p.db, o)
}

// write writes a file, at a later time than the last.
func (p *place) write(name, text string) {
	p.t.Helper()
	path := filepath.Join(p.dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		p.t.Fatal(err)
	}
	p.clock = p.clock.Add(time.Second)
	if err := os.Chtimes(path, p.clock, p.clock); err != nil {
		p.t.Fatal(err)
	}
}

// look looks so many times.
func (p *place) look(n int) {
	p.t.Helper()
	for range n {
		if err := p.watch.Look(context.Background()); err != nil {
			p.t.Fatal(err)
		}
	}
}

func (p *place) file(name string) fileintake.File {
	for _, f := range p.watch.Files() {
		if f.Path == name {
			return f
		}
	}
	return fileintake.File{}
}

// values are those of a sensor in order, "time value".
func (p *place) values(key string) []string {
	p.t.Helper()
	s, err := p.db.Sensor(context.Background(), key)
	if err != nil {
		return nil
	}
	got, err := p.db.Samples(context.Background(), s.ID, 0, store.At(now.Add(1000*time.Hour)))
	if err != nil {
		p.t.Fatal(err)
	}
	var out []string
	for _, x := range got {
		out = append(out, fmt.Sprintf("%s %g", store.Time(x.At).Format("15:04"), x.Value))
	}
	return out
}

func (p *place) want(key string, want ...string) {
	p.t.Helper()
	if got := p.values(key); !slices.Equal(got, want) {
		p.t.Errorf("%s: %v, want %v", key, got, want)
	}
}

const head = "Time (UTC),Temperature (°C),Humidity (%),Note\n"

// A file is read when it has come to rest, under names made of place and column; one
// that grows is continued; the same again, under another name, is recognised.
func TestGrows(t *testing.T) {
	p := newPlace(t, fileintake.Options{})
	one := head + "2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.5,61,door\n"
	p.write("rack-2_20261125.csv", one)
	p.look(2)
	if p.values("rack-2/Temperature") != nil {
		t.Error("read before it came to rest")
	}
	p.look(1)
	p.want("rack-2/Temperature", "10:00 21.4", "10:05 21.5")
	p.want("rack-2/Humidity", "10:00 62", "10:05 61")
	if s, err := p.db.Sensor(context.Background(), "rack-2/Temperature"); err != nil || s.Unit != "°C" {
		t.Errorf("%+v, %v", s, err)
	}
	if f := p.file("rack-2_20261125.csv"); !f.Read || f.New != 4 || f.Rows != 2 || f.Place != "rack-2" {
		t.Errorf("%+v", f)
	}
	p.look(20)
	if p.taker.taken != 4 {
		t.Errorf("%d readings were sent", p.taker.taken)
	}
	p.write("rack-2_20261125.csv", one+"2026-11-25 10:10,21.6,60,\n")
	p.look(3)
	p.want("rack-2/Temperature", "10:00 21.4", "10:05 21.5", "10:10 21.6")
	if f := p.file("rack-2_20261125.csv"); f.New != 2 || f.Known != 0 || f.Rows != 3 {
		t.Errorf("what was read before was looked at again: %+v", f)
	}
	// After a new start nothing is read again.
	p.start()
	p.look(20)
	if p.taker.taken != 6 {
		t.Errorf("%d readings were sent", p.taker.taken)
	}
	// An export of everything, with one value put right.
	p.write("rack-2 (1).csv", strings.Replace(one, "21.5", "21.9", 1)+"2026-11-25 10:10,21.6,60,\n2026-11-25 10:15,22,59,\n")
	p.look(3)
	p.want("rack-2/Temperature", "10:00 21.4", "10:05 21.9", "10:10 21.6", "10:15 22")
	if f := p.file("rack-2 (1).csv"); f.New != 2 || f.Changed != 1 || f.Known != 5 {
		t.Errorf("%+v", f)
	}
	// The logger begins a new file under the old name.
	p.write("rack-2_20261125.csv", head+"2026-11-26 10:00,20,62,\n")
	p.look(3)
	if f := p.file("rack-2_20261125.csv"); f.New != 2 || f.Rows != 1 {
		t.Errorf("%+v", f)
	}
	// Taken away: forgotten, and no reading goes with it.
	if err := os.Remove(filepath.Join(p.dir, "rack-2 (1).csv")); err != nil {
		t.Fatal(err)
	}
	p.look(1)
	if f := p.file("rack-2 (1).csv"); f.Path != "" || len(p.values("rack-2/Temperature")) != 5 {
		t.Errorf("%+v", f)
	}
}

// A last line that is half written does no harm: it waits, is taken when nobody goes on
// with it, and put right when somebody does after all.
func TestHalfWritten(t *testing.T) {
	for _, wide := range []bool{false, true} {
		dress := func(s string) string {
			if !wide {
				return s
			}
			var b []byte
			for _, u := range utf16.Encode([]rune("\ufeff" + s)) {
				b = append(b, byte(u), byte(u>>8))
			}
			return string(b)
		}
		p := newPlace(t, fileintake.Options{Quiet: 5})
		p.write("a/log.csv", dress(head+"2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21"))
		p.look(3)
		p.want("a/Temperature", "10:00 21.4")
		p.write("a/log.csv", dress(head+"2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.5,61,\n2026-11-25 10:10,2"))
		p.look(3)
		p.want("a/Temperature", "10:00 21.4", "10:05 21.5")
		if f := p.file("a/log.csv"); f.Problem != "" {
			t.Errorf("%+v", f)
		}
		// Nobody goes on: the half line is no row, which is said now.
		p.look(5)
		if f := p.file("a/log.csv"); !strings.Contains(f.Problem, "line 4") {
			t.Errorf("%+v", f)
		}
		// A last line that is whole but for its end is taken when it is quiet …
		p.write("a/log.csv", dress(head+"2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.5,61,\n2026-11-25 10:10,22,6,"))
		p.look(3)
		p.want("a/Temperature", "10:00 21.4", "10:05 21.5")
		p.look(5)
		p.want("a/Temperature", "10:00 21.4", "10:05 21.5", "10:10 22")
		p.want("a/Humidity", "10:00 62", "10:05 61", "10:10 6")
		// … and put right if it was not whole.
		p.write("a/log.csv", dress(head+"2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.5,61,\n2026-11-25 10:10,22,60,\n"))
		p.look(3)
		p.want("a/Humidity", "10:00 62", "10:05 61", "10:10 60")
		if f := p.file("a/log.csv"); f.Changed != 1 || f.Known != 1 {
			t.Errorf("%+v", f)
		}
		// Only a heading: nothing is said until it is quiet.
		p.write("a/new.csv", dress(head))
		p.look(3)
		if f := p.file("a/new.csv"); f.Problem == "" {
			t.Errorf("a table without rows: %+v", f)
		}
	}
}

// The clocks go back within the table (Berlin, 25 October 2026, 3:00 to 2:00) and forward
// (29 March 2026); every row has an instant of its own, though the table is continued
// within the hour that comes twice.
func TestSummerTime(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	p := newPlace(t, fileintake.Options{Zone: zone})
	rows := []string{"25.10.2026 01:30;1", "25.10.2026 02:00;2", "25.10.2026 02:30;3", "25.10.2026 02:00;4", "25.10.2026 02:30;5", "25.10.2026 03:00;6"}
	for n := 2; n <= len(rows); n++ {
		p.write("kammer/log.csv", "Zeit;Luft (°C)\n"+strings.Join(rows[:n], "\n")+"\n")
		p.look(3)
	}
	p.want("kammer/Luft", "23:30 1", "00:00 2", "00:30 3", "01:00 4", "01:30 5", "02:00 6")
	p.write("keller/log.csv", "Zeit;Luft\n29.03.2026 01:30;1\n29.03.2026 03:00;2\n29.03.2026 03:30;3\n")
	p.look(3)
	p.want("keller/Luft", "00:30 1", "01:00 2", "01:30 3")
}

// What cannot be read is reported with its line and left as it is, and others are read.
func TestBad(t *testing.T) {
	p := newPlace(t, fileintake.Options{})
	bad := map[string]struct{ text, says string }{
		"words.csv":  {"this is\nno table\n", "no line begins with a time"},
		"empty.csv":  {"\n", "the file is empty"},
		"bytes.csv":  {"PK\x03\x04\x00\x00\x00\x01\x02\n\x00\x00", "is not text"},
		"ragged.csv": {head + "2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.4\n2026-11-25 10:10,21,61,\n", "line 3"},
		"future.csv": {head + "2026-11-25 10:00,21.4,62,\n2027-11-25 10:05,21.4,62,\n", "has not come yet"},
		"long.csv":   {"Time (UTC)," + strings.Repeat("a", 5000) + "\n2026-11-25 10:00,1\n", "cannot be used"},
		"zone.csv":   {"Time,a\n2026-11-25 10:00,1\n2026-11-25 10:01,2\n", "in which zone"},
	}
	for name, b := range bad {
		p.write(name, b.text)
	}
	p.write("good.csv", head+"2026-11-25 10:00,21.4,62,\n")
	p.write(".hidden.csv", "x\n")
	p.write("picture.png", "x\n")
	p.look(20)
	for name, b := range bad {
		if f := p.file(name); f.Read || !strings.Contains(f.Problem, b.says) {
			t.Errorf("%s: %+v, want %q", name, f, b.says)
		}
		if n := strings.Count(p.log.String(), "file="+name); n < 1 || n > 2 {
			t.Errorf("%s is in the log %d times", name, n)
		}
		if text, err := os.ReadFile(filepath.Join(p.dir, name)); err != nil || string(text) != b.text {
			t.Errorf("%s was touched", name)
		}
	}
	p.want("good/Temperature", "10:00 21.4")
	if p.values("future/Temperature") != nil || len(p.watch.Files()) != len(bad)+1 {
		t.Errorf("half of a bad file was kept, or another was looked at: %v", p.watch.Files())
	}
	// Mended, it is read.
	p.write("ragged.csv", head+"2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.4,,\n")
	p.look(3)
	p.want("ragged/Humidity", "10:00 62")
	if f := p.file("ragged.csv"); !f.Read || f.Problem != "" {
		t.Errorf("%+v", f)
	}
}

// The mapping is made once for each place and heading, and the person's word counts.
func TestMapping(t *testing.T) {
	ctx := context.Background()
	p := newPlace(t, fileintake.Options{})
	p.write("a/1.csv", "Time,T,T,°\n2026-11-25 10:00,1,2,3\n")
	p.write("b/1.csv", "Time,T,T,°\n2026-11-25 10:00,4,5,6\n")
	p.look(3) // neither says in which zone: nothing is kept
	if p.taker.taken != 0 {
		t.Error("a zone was made up")
	}
	zone, _ := time.LoadLocation("Europe/Berlin")
	p.opt.Zone = zone
	p.start()
	p.look(3)
	p.want("a/T", "09:00 1")
	p.want("a/T-2", "09:00 2") // two columns of one name
	p.want("a/column", "09:00 3")
	all, err := p.db.Documents(ctx, fileintake.KindTable)
	if err != nil || len(all) != 2 {
		t.Fatal(all, err)
	}
	if !strings.Contains(string(all[0].Text), `{column: "T (2)", sensor: "a/T-2"}`) {
		t.Errorf("%s", all[0].Text)
	}
	// Both places have sensors of their own.
	p.want("b/T", "09:00 4")
	// The person changes it: another sensor, another zone, a column left out.
	d := all[0]
	d.Text = []byte("underlamp table: 1\nplace: a\nzone: UTC\ncolumns:\n  - {column: T, sensor: tent/air}\n  - {column: \"T (2)\", sensor: none}\n  - {column: °, sensor: tent/leaf}\n")
	if err := p.db.PutDocument(ctx, d); err != nil {
		t.Fatal(err)
	}
	p.write("a/2.csv", "Time,T,T,°\n2026-11-25 11:00,7,8,9\n")
	p.look(3)
	p.want("tent/air", "11:00 7")
	p.want("tent/leaf", "11:00 9")
	p.want("a/T", "09:00 1")
	// One that cannot be read is said, and nothing is guessed instead.
	d.Text = []byte("underlamp table: 1\nplace: a\ncolumns: 7\n")
	if err := p.db.PutDocument(ctx, d); err != nil {
		t.Fatal(err)
	}
	p.write("a/3.csv", "Time,T,T,°\n2026-11-25 12:00,7,8,9\n")
	p.look(3)
	if f := p.file("a/3.csv"); !strings.Contains(f.Problem, "cannot be used") || len(p.values("tent/air")) != 1 {
		t.Errorf("%+v", f)
	}
}

// The disk fails, the clocks of program and drive jump: nothing is lost, and nothing is
// counted twice.
func TestFaults(t *testing.T) {
	p := newPlace(t, fileintake.Options{})
	p.write("a/log.csv", head+"2026-11-25 10:00,21.4,62,\n")
	p.taker.fail = true
	failed := 0
	for range 5 {
		if err := p.watch.Look(context.Background()); err != nil {
			failed++
		}
	}
	if failed == 0 || p.values("a/Temperature") != nil {
		t.Errorf("%d looks failed", failed)
	}
	p.taker.fail = false
	p.look(1)
	p.want("a/Temperature", "10:00 21.4")
	// The drive's clock is set back, and the program's too: a file of another time is
	// another file.
	p.clock = p.clock.Add(-50 * time.Hour)
	p.now = p.now.Add(-time.Hour)
	p.write("a/log.csv", head+"2026-11-25 10:00,21.4,62,\n2026-11-25 10:05,21.5,62,\n")
	p.look(3)
	p.want("a/Temperature", "10:00 21.4", "10:05 21.5")
	if p.taker.taken != 4 {
		t.Errorf("%d readings were sent", p.taker.taken)
	}
	// The folder is away for a while, and comes back.
	gone := p.dir + "-away"
	if err := os.Rename(p.dir, gone); err != nil {
		t.Fatal(err)
	}
	p.look(3)
	if err := os.Rename(gone, p.dir); err != nil {
		t.Fatal(err)
	}
	p.look(20)
	if p.taker.taken != 4 || !strings.Contains(p.log.String(), "can be read again") {
		t.Errorf("%d readings were sent; %s", p.taker.taken, p.log.String())
	}
}

// Run looks by itself, and ends when it is told.
func TestRun(t *testing.T) {
	p := newPlace(t, fileintake.Options{Every: 2 * time.Millisecond})
	p.write("a/log.csv", head+"2026-11-25 10:00,21.4,62,\n")
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { p.watch.Run(ctx); close(done) }()
	for begin := time.Now(); !p.file("a/log.csv").Read; time.Sleep(time.Millisecond) {
		if time.Since(begin) > 2*time.Minute {
			t.Fatal("not read")
		}
	}
	cancel()
	<-done
	p.want("a/Temperature", "10:00 21.4")
}
