package sqlite_test

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"underlamp/store"
	"underlamp/store/sqlite"
)

var (
	largePath = flag.String("large", "", "where BenchmarkLarge keeps its store; made if it is not there, and left there")
	largeDays = flag.Int("large-days", 347, "days of 20 sensors at 6 s that BenchmarkLarge makes; 347 give 100 million readings")
)

// largeBegin is the first instant of the large store: 2025-12-01.
const largeBegin = 1_764_547_200 * store.Second

const largeSensors, largeStep = 20, 6 * store.Second

// BenchmarkLarge asks a store of 100 million readings what its pages ask. It is big and
// takes minutes to make, so it runs only where -large says where:
//
//	go test -run '^$' -bench Large -benchtime 1x -timeout 2h ./store/sqlite -large /tmp/large.db
func BenchmarkLarge(b *testing.B) {
	if *largePath == "" {
		b.Skip("say with -large where the store may lie")
	}
	ctx := context.Background()
	if _, err := os.Stat(*largePath); err != nil {
		b.Run("make", func(b *testing.B) { large(b, *largePath) })
	}
	begin := time.Now()
	s, err := sqlite.Open(ctx, *largePath)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	opened := time.Since(begin)
	ids, err := s.Sensors(ctx)
	if err != nil {
		b.Fatal(err)
	}
	end := largeBegin + int64(*largeDays)*store.Day
	b.Run("open", func(b *testing.B) { b.ReportMetric(opened.Seconds()*1e3, "ms/start") })
	for name, c := range map[string]struct{ from, width int64 }{
		"year by day":     {largeBegin, store.Day},
		"year by hour":    {largeBegin, store.Hour},
		"week by hour":    {end - 7*store.Day, store.Hour},
		"day by minute":   {end - store.Day, store.Minute},
		"week by minutes": {end - 7*store.Day, 10 * store.Minute},
	} {
		b.Run(name, func(b *testing.B) {
			k := 0
			for b.Loop() {
				k++
				got, err := s.Buckets(ctx, ids[k%len(ids)].ID, c.from, end, c.width)
				if want := (end - c.from) / c.width; err != nil || int64(len(got)) != want {
					b.Fatalf("%d stretches, want %d, %v", len(got), want, err)
				}
			}
			b.ReportMetric(b.Elapsed().Seconds()*1e3/float64(b.N), "ms/chart")
		})
	}
	b.Run("memory", func(b *testing.B) { b.ReportMetric(resident(b), "MB/resident") })
	b.Run("size", func(b *testing.B) {
		info, err := os.Stat(*largePath)
		if err != nil {
			b.Fatal(err)
		}
		n := float64(int64(*largeDays) * store.Day / largeStep * largeSensors)
		b.ReportMetric(n/1e6, "million-readings")
		b.ReportMetric(float64(info.Size())/n, "B/reading")
	})
}

// large makes the store as intake does: batches of a minute of all sensors, brought to
// the disk each, and packed whenever 400 000 wait.
func large(b *testing.B, path string) {
	ctx := context.Background()
	s, err := sqlite.Open(ctx, path)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	var ids []int64
	for i := range largeSensors {
		id, err := s.PutSensor(ctx, store.Sensor{Key: "rack-" + strconv.Itoa(i/4+1) + "/" + []string{"air", "humidity", "ppfd", "co2"}[i%4]})
		if err != nil {
			b.Fatal(err)
		}
		ids = append(ids, id)
	}
	r := rand.New(rand.NewPCG(5, 6))
	state := make([]float64, largeSensors)
	var batch []store.Reading
	waiting, total := 0, 0
	begin := time.Now()
	for at := largeBegin; at < largeBegin+int64(*largeDays)*store.Day; at += largeStep {
		hour := float64(at%store.Day) / float64(store.Hour)
		lit := hour >= 6 && hour < 22
		for i, id := range ids {
			state[i] = 0.95*state[i] + r.NormFloat64()
			v := 0.0
			switch i % 4 {
			case 0: // °C to a tenth
				v = math.Round(10*(20.5+0.1*state[i]+2*math.Sin(hour/24*2*math.Pi))) / 10
			case 1: // % to a tenth
				v = math.Round(10*(62+0.5*state[i])) / 10
			case 2: // µmol/m²/s, whole
				if lit {
					v = math.Round(215 + state[i])
				}
			case 3: // ppm, whole
				v = math.Round(640 + 8*state[i])
			}
			batch = append(batch, store.Reading{Sensor: id, At: at + int64(i), Value: v})
		}
		if len(batch) >= 2000 {
			if err := s.Append(ctx, batch); err != nil {
				b.Fatal(err)
			}
			waiting += len(batch)
			total += len(batch)
			batch = batch[:0]
		}
		if waiting >= 400_000 {
			drain(b, s)
			waiting = 0
		}
	}
	if err := s.Append(ctx, batch); err != nil {
		b.Fatal(err)
	}
	drain(b, s)
	b.ReportMetric(float64(total+len(batch))/time.Since(begin).Seconds(), "readings/s")
}

func drain(b testing.TB, s store.Store) {
	for {
		n, err := s.Fold(context.Background())
		if err != nil {
			b.Fatal(err)
		}
		if n == 0 {
			return
		}
	}
}

// resident is the memory that the process has of the machine, in MB.
func resident(b *testing.B) float64 {
	runtime.GC()
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		b.Skip(err)
	}
	for line := range strings.Lines(string(text)) {
		if f := strings.Fields(line); len(f) > 1 && f[0] == "VmRSS:" {
			kB, err := strconv.ParseFloat(f[1], 64)
			if err != nil {
				b.Fatal(err)
			}
			return kB / 1024
		}
	}
	return 0
}
