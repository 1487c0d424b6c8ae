package archive_test

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"underlamp/internal/pgtest"
	"underlamp/store"
	"underlamp/store/archive"
	"underlamp/store/packed"
	"underlamp/store/postgres"
	"underlamp/store/sqlite"
)

var now = time.Date(2026, 11, 26, 1, 0, 0, 0, time.UTC)

const begin = 1_795_600_800 * store.Second // 2026-11-25 10:00

// all is a sink that keeps what it gets.
type all struct {
	Rows  []string
	Hours []hour
}

type hour struct {
	Sensor  int64
	Sum     store.Bucket
	Samples []packed.Sample
}

func (a *all) Row(t store.Table, values []any) error {
	a.Rows = append(a.Rows, fmt.Sprintf("%s %q", t.Name, values))
	return nil
}

func (a *all) Hour(sensor int64, b store.Bucket, samples []packed.Sample) error {
	a.Hours = append(a.Hours, hour{sensor, b, slices.Clone(samples)})
	return nil
}

func dump(t fataler, s store.Store) *all {
	a := &all{}
	if err := s.Dump(context.Background(), a); err != nil {
		t.Fatal(err)
	}
	return a
}

type fataler interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

// fill makes a store of what rapid comes up with, by the calls that everybody uses.
func fill(t *rapid.T, s store.Store) {
	ctx := context.Background()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	// PostgreSQL keeps no zero byte in a text, so names have none.
	word := rapid.StringMatching(`[a-zäß☘"'\\/ ,]{1,8}`)
	some := func(what string) int { return rapid.IntRange(0, 3).Draw(t, what) }
	var ids []int64
	for i := range 1 + some("sensors") {
		x := rapid.SampledFrom([]*float64{nil, new(float64)}).Draw(t, "x")
		id, err := s.PutSensor(ctx, store.Sensor{Key: fmt.Sprintf("%d %s", i, word.Draw(t, "key")), Unit: word.Draw(t, "unit"), X: x,
			Calibrations: []store.Calibration{{From: 3, Gain: 1.01, Offset: 0.1, By: word.Draw(t, "by")}}})
		must(err)
		ids = append(ids, id)
	}
	for i := range some("versions") {
		_, err := s.PutBench(ctx, store.Version{Bench: word.Draw(t, "bench"), From: int64(i), Recorded: 7, By: word.Draw(t, "author"), Text: rapid.SliceOf(rapid.Byte()).Draw(t, "text")})
		must(err)
	}
	for i := range some("observations") {
		must(s.Observe(ctx, []store.Observation{{ID: fmt.Sprint(i), Bench: word.Draw(t, "bench"), At: int64(i), Recorded: 9, Struck: i == 1, Doc: []byte(`{"mass_g":12.5,"note":"` + "\u2028<" + `"}`)}}))
	}
	for i := range some("documents") {
		must(s.PutDocument(ctx, store.Document{Kind: word.Draw(t, "kind"), Name: fmt.Sprint(i), Recorded: 5, Text: rapid.SliceOf(rapid.Byte()).Draw(t, "text")}))
	}
	for i := range some("photos") {
		must(s.PutPhoto(ctx, store.Photo{ID: fmt.Sprint("p", i), Bench: "b", At: 4, Media: "image/jpeg", Doc: []byte("{}")}, rapid.SliceOfN(rapid.Byte(), 1, 300).Draw(t, "data")))
	}
	for i := range some("measures") {
		must(s.PutMeasure(ctx, store.Measure{Photo: "p0", Method: fmt.Sprint("m ", i), Recorded: 8, Doc: []byte("{}"), Pictures: []store.NamedPicture{{Name: word.Draw(t, "name") + ".", Data: rapid.SliceOfN(rapid.Byte(), 1, 300).Draw(t, "picture")}}}))
		must(s.PutVerdict(ctx, store.Verdict{ID: fmt.Sprint("v", i), Photo: "p0", Recorded: 9, By: word.Draw(t, "by"), Doc: []byte("{}")}))
	}
	for i := range some("devices") {
		must(s.AddDevice(ctx, store.Device{Name: fmt.Sprint("d", i), Made: 6}, [32]byte{byte(i), 0xff}))
	}
	for i := range some("people") {
		must(s.PutInvite(ctx, store.Invite{ID: fmt.Sprint("i", i), Hash: [32]byte{byte(i)}, Person: word.Draw(t, "person"), Role: "viewer", Made: 3, Expires: 9}))
		if i == 1 {
			must(s.Redeem(ctx, "i0", store.Session{ID: "s", Person: word.Draw(t, "person"), Role: "owner", Device: word.Draw(t, "device"), Made: 4, Seen: 4, Expires: 99, Hash: [32]byte{7}, Issued: 4}))
			_, err := s.Renew(ctx, "s", [32]byte{7}, [32]byte{7}, [32]byte{8}, 5)
			must(err)
		}
	}
	for i := range some("messages") {
		m, _, err := s.OpenMessage(ctx, store.Message{Bench: word.Draw(t, "bench"), Rule: fmt.Sprint("rule ", i), Text: word.Draw(t, "text"), Mend: "mend it", Urgent: i == 1, Since: 1, Opened: 2})
		must(err)
		must(s.PlanDeliveries(ctx, []store.Delivery{{Message: m.ID, Event: "open", Receiver: word.Draw(t, "receiver"), Due: 3}}))
		if i == 2 {
			_, err = s.CloseMessage(ctx, m.Bench, m.Rule, 9)
			must(err)
			must(s.Acknowledge(ctx, m.ID, word.Draw(t, "who"), 10))
		}
	}
	for i := range some("messages") {
		m, _, err := s.OpenMessage(ctx, store.Message{Bench: "b", Rule: fmt.Sprint("r", i), Text: word.Draw(t, "text"), Since: 3, Opened: 4})
		must(err)
		must(s.PlanDeliveries(ctx, []store.Delivery{{Message: m.ID, Event: "open", Receiver: word.Draw(t, "receiver"), Due: 5}}))
		if i == 1 {
			must(s.Acknowledge(ctx, m.ID, word.Draw(t, "by"), 6))
			_, err := s.CloseMessage(ctx, "b", m.Rule, 7)
			must(err)
		}
	}
	for range some("steps") {
		var rs []store.Reading
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			v := rapid.SampledFrom([]float64{21.4, -0.1, math.Copysign(0, -1), math.MaxFloat64, 0.1 + 0.2, 5e-324, 1e6}).Draw(t, "value")
			rs = append(rs, store.Reading{Sensor: rapid.SampledFrom(ids).Draw(t, "of"), At: begin + rapid.Int64Range(0, 5*store.Hour).Draw(t, "at"), Value: v})
		}
		must(s.Append(ctx, rs))
		switch some("then") {
		case 1:
			_, err := s.Fold(ctx)
			must(err)
		case 2:
			must(s.Forget(ctx, ids[0], begin+2*store.Hour))
		}
	}
}

func export(t fataler, s store.Store) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := archive.Export(context.Background(), s, &b, now); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func load(t fataler, s store.Store, data []byte) {
	t.Helper()
	if err := enter(s, data); err != nil {
		t.Fatal(err)
	}
}

func enter(s store.Store, data []byte) error {
	a, err := archive.Open(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return err
	}
	return a.Import(context.Background(), s)
}

// newFile gives an empty store in a file.
func newFile(t testing.TB) func(f fataler) store.Store {
	folder := t.TempDir()
	n := 0
	return func(f fataler) store.Store {
		n++
		s, err := sqlite.Open(context.Background(), filepath.Join(folder, fmt.Sprint(n, ".db")))
		if err != nil {
			f.Fatal(err)
		}
		return s
	}
}

// The same store: all that can be handed over is alike, it agrees with itself, and what
// is entered next does not run into what is there.
func same(t *rapid.T, a, b store.Store) {
	t.Helper()
	if d := cmp.Diff(dump(t, a), dump(t, b)); d != "" {
		t.Fatalf("the stores differ:\n%s", d)
	}
	ctx := context.Background()
	if faults, err := b.Verify(ctx); err != nil || len(faults) > 0 {
		t.Fatalf("%v, %v", faults, err)
	}
	sensors, err := a.Sensors(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range sensors {
		for _, width := range []int64{store.Hour, store.Day} {
			want, err := a.Buckets(ctx, x.ID, 0, begin*2, width)
			got, err2 := b.Buckets(ctx, x.ID, 0, begin*2, width)
			if err != nil || err2 != nil || !slices.Equal(got, want) {
				t.Fatalf("sums of %q: %v, want %v; %v %v", x.Key, got, want, err, err2)
			}
		}
	}
	id, err := b.PutSensor(ctx, store.Sensor{Key: "the next one"})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range sensors {
		if x.ID == id {
			t.Fatalf("the next sensor got the id of %q", x.Key)
		}
	}
}

// Out and in again gives the same store, and the same archive.
func TestThereAndBack(t *testing.T) {
	fresh := newFile(t)
	rounds := 0
	rapid.Check(t, func(t *rapid.T) {
		if rounds++; rounds > 40 {
			return // two files each
		}
		a, b := fresh(t), fresh(t)
		defer a.Close()
		defer b.Close()
		fill(t, a)
		data := export(t, a)
		load(t, b, data)
		if again := export(t, b); !bytes.Equal(data, again) {
			t.Fatal("the archive of the copy differs")
		}
		same(t, a, b)
	})
}

// From a file into a database and back.
func TestBetweenEngines(t *testing.T) {
	server := pgtest.Start(t)
	fresh := newFile(t)
	rounds := 0
	rapid.Check(t, func(rt *rapid.T) {
		if rounds++; rounds > 12 {
			return // a database each
		}
		ctx := context.Background()
		a, c := fresh(rt), fresh(rt)
		defer a.Close()
		defer c.Close()
		b, err := postgres.Open(ctx, server.Database(t))
		if err != nil {
			rt.Fatal(err)
		}
		defer b.Close()
		fill(rt, a)
		data := export(rt, a)
		load(rt, b, data)
		there := export(rt, b)
		if !bytes.Equal(data, there) {
			rt.Fatal("the archive of the database differs from that of the file")
		}
		load(rt, c, there)
		same(rt, a, b)
		same(rt, a, c)
	})
}

// A store that is not empty stays as it is.
func TestNotEmpty(t *testing.T) {
	ctx := context.Background()
	fresh := newFile(t)
	a, b := fresh(t), fresh(t)
	defer a.Close()
	defer b.Close()
	if _, err := b.PutSensor(ctx, store.Sensor{Key: "mine"}); err != nil {
		t.Fatal(err)
	}
	data := export(t, a)
	err := enter(b, data)
	if all, lerr := b.Sensors(ctx); !errors.Is(err, store.ErrNotEmpty) || lerr != nil || len(all) != 1 {
		t.Errorf("%v; %v %v", err, all, lerr)
	}
}

// small is an archive with something of everything.
func small(t fataler, s store.Store) []byte {
	ctx := context.Background()
	id, err := s.PutSensor(ctx, store.Sensor{Key: "rack/air"})
	if err != nil {
		t.Fatal(err)
	}
	var rs []store.Reading
	for i := range int64(300) {
		rs = append(rs, store.Reading{Sensor: id, At: begin + i*store.Minute, Value: float64(i) / 10})
	}
	for _, err := range []error{
		s.Append(ctx, rs), s.Forget(ctx, id, begin+store.Hour),
		s.PutPhoto(ctx, store.Photo{ID: "p", Bench: "b", Media: "image/png"}, []byte{0, 1, 0xff}),
		s.PutDocument(ctx, store.Document{Kind: "k", Name: "n", Text: []byte{0xff}}),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return export(t, s)
}

// A cut archive is refused whole, wherever it is cut; one with a changed byte is refused,
// or the byte meant nothing.
func TestCutAndChanged(t *testing.T) {
	fresh := newFile(t)
	s, empty := fresh(t), fresh(t)
	defer s.Close()
	defer empty.Close()
	data := small(t, s)
	want := dump(t, s)
	// The archive has what was forgotten after what is left.
	raw := slices.Clone(want.Hours)
	slices.SortStableFunc(raw, func(a, b hour) int { return min(len(b.Samples), 1) - min(len(a.Samples), 1) })
	for n := 0; n < len(data); n += 7 {
		if err := enter(empty, data[:n]); !errors.Is(err, archive.ErrDamaged) {
			t.Fatalf("cut at %d of %d: %v", n, len(data), err)
		}
	}
	taken := 0
	for i := range data {
		changed := bytes.Clone(data)
		changed[i] ^= 1 << (i % 8)
		if _, err := archive.Open(bytes.NewReader(changed), int64(len(changed))); err != nil {
			continue
		}
		taken++
		got := recorder{s, &all{}}
		load(t, got, changed)
		if !slices.Equal(got.all.Rows, want.Rows) || !slices.EqualFunc(got.all.Hours, raw, func(a, b hour) bool {
			return a.Sensor == b.Sensor && a.Sum == b.Sum && slices.Equal(a.Samples, b.Samples)
		}) {
			t.Fatalf("byte %d changed, and the store with it:\n%s", i, cmp.Diff(want, got.all))
		}
	}
	t.Logf("of %d changed bytes %d mean nothing (dates and attributes of the parts)", len(data), taken)
	if got := dump(t, empty); len(got.Rows) > 0 || len(got.Hours) > 0 {
		t.Errorf("of refused archives %v was entered", got)
	}
}

// recorder keeps what is loaded into it.
type recorder struct {
	store.Store
	all *all
}

func (r recorder) Load(_ context.Context, fill func(store.Sink) error) error { return fill(r.all) }

// null takes everything.
type null struct{ store.Store }

func (null) Row(store.Table, []any) error                             { return nil }
func (null) Hour(int64, store.Bucket, []packed.Sample) error          { return nil }
func (n null) Load(_ context.Context, f func(store.Sink) error) error { return f(n) }

func FuzzImport(f *testing.F) {
	s := newFile(f)(f)
	defer s.Close()
	f.Add(small(f, s))
	f.Add([]byte("PK"))
	f.Fuzz(func(t *testing.T, data []byte) {
		err := enter(null{s}, data)
		if err != nil && err.Error() == "" {
			t.Error("an error without words")
		}
	})
}

// pack makes an archive of one part, with its right sum.
func pack(t fataler, name string, content []byte) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	write := func(name string, data []byte) {
		f, err := z.Create(name)
		if err == nil {
			_, err = f.Write(data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	write(name, content)
	sum := sha256.Sum256(content)
	m, err := json.Marshal(archive.Manifest{Format: "underlamp archive", Layout: 1, Parts: []archive.Part{{Name: name, Bytes: int64(len(content)), SHA256: hex.EncodeToString(sum[:]), Rows: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	write("manifest.json", m)
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Whatever stands in a part whose sum is right, it is refused with its place, or what is
// handed over can be a store: hours in order, readings in their hour, numbers.
func FuzzPart(f *testing.F) {
	s := newFile(f)(f)
	f.Cleanup(func() { s.Close() })
	names := []string{"readings/1.csv", "forgotten/1.csv", "sensor.jsonl", "photo.jsonl", "device.jsonl"}
	f.Add(0, []byte("at_us,value\n1,2.5\n3600000001,-0\n"))
	f.Add(0, []byte("at_us,value\n5,1\n5,1\n"))
	f.Add(0, []byte("at_us,value\n-5,1\n"))
	f.Add(1, []byte("hour_us,n,min,max,sum,first,last\n3600000000,2,1,2,3,1,2\n"))
	f.Add(2, []byte(`{"id":1,"name":"a","doc":"{}"}`))
	f.Add(3, []byte(`{"id":"a","bench":"b","at":1,"recorded":1,"media":"m","doc":"{}","data":{"part":"photo.jsonl"}}`))
	f.Add(4, []byte(`{"name":"a","hash":{"base64":"AAE="},"made":1,"revoked":0}`))
	f.Fuzz(func(t *testing.T, which int, content []byte) {
		name := names[(which%len(names)+len(names))%len(names)]
		got := recorder{s, &all{}}
		err := enter(got, pack(t, name, content))
		if err != nil && !strings.Contains(err.Error(), name) {
			t.Errorf("the error does not name %s: %v", name, err)
		}
		last := int64(-1)
		for _, h := range got.all.Hours {
			from := h.Sum.From
			if len(h.Samples) > 0 {
				from = h.Samples[0].At - h.Samples[0].At%store.Hour
			}
			if from < 0 || len(h.Samples) > 0 && (from <= last || h.Samples[len(h.Samples)-1].At >= from+store.Hour) {
				t.Errorf("hour %d after %d: %v", from, last, h)
			}
			last = from
			for _, x := range h.Samples {
				if math.IsNaN(x.Value) || math.IsInf(x.Value, 0) {
					t.Errorf("%g is handed over", x.Value)
				}
			}
		}
	})
}
