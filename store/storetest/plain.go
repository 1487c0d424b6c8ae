package storetest

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"underlamp/store"
)

// Beside measures the intake of a store side by side with the engine alone, fed by its own
// bulk tool, on the same readings in the same run. plain enters a CSV file of sensor, µs and
// value into a table with the key sensor and µs, in one transaction, and returns the bytes
// that the table takes; it is measured from the start of the tool to its end. The store
// gets its readings in batches of 5 000, each brought to the disk, and packs them.
func Beside(b *testing.B, open func(b *testing.B) store.Store, plain func(b *testing.B, file string) (bytes int64)) {
	const sensors, seconds = 50, 20_000 // a million
	r := rand.New(rand.NewPCG(9, 10))
	ctx := context.Background()
	s := open(b)
	ids := sensorsOf(b, s, sensors)
	all := make([]store.Reading, 0, sensors*seconds)
	for t := range int64(seconds) {
		for _, id := range ids {
			all = append(all, store.Reading{Sensor: id, At: t * store.Second, Value: math.Round(10*(21+r.NormFloat64())) / 10})
		}
	}
	name := filepath.Join(b.TempDir(), "readings.csv")
	f, err := os.Create(name)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	for _, x := range all {
		fmt.Fprintf(w, "%d,%d,%s\n", x.Sensor, x.At, strconv.FormatFloat(x.Value, 'g', -1, 64))
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	os.Chmod(filepath.Dir(name), 0o755) // the server of a database has a user of its own
	var ours, theirs time.Duration
	var bytes int64
	for b.Loop() {
		begin := time.Now()
		waiting := 0
		for rest := all; len(rest) > 0; {
			n := min(5000, len(rest))
			if err := s.Append(ctx, rest[:n]); err != nil {
				b.Fatal(err)
			}
			rest = rest[n:]
			if waiting += n; waiting >= 200_000 {
				fold(b, s)
				waiting = 0
			}
		}
		fold(b, s)
		ours = time.Since(begin)
		begin = time.Now()
		bytes = plain(b, name)
		theirs = time.Since(begin)
	}
	size, err := s.Size(ctx)
	if err != nil {
		b.Fatal(err)
	}
	n := float64(len(all))
	b.ReportMetric(n/ours.Seconds(), "readings/s")
	b.ReportMetric(n/theirs.Seconds(), "plain-readings/s")
	b.ReportMetric(theirs.Seconds()/ours.Seconds(), "times-plain")
	b.ReportMetric(float64(bytes)/n, "plain-B/reading")
	packed := int64(0)
	for _, x := range size.Sensors {
		packed += x.Bytes
	}
	b.ReportMetric(float64(packed)/n, "B/reading")
	b.ReportMetric(0, "ns/op")
}
