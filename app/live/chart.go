package live

import (
	"context"
	"fmt"
	"time"

	"underlamp/store"
)

// A Chart is a sensor over a stretch of time, in pieces of equal width.
type Chart struct {
	Unit     string     `json:"unit"`
	From     time.Time  `json:"from"`
	To       time.Time  `json:"to"`
	Width    int64      `json:"width_s"` // of a piece
	At       []int64    `json:"at_s"`    // their begins, since 1970-01-01 UTC; a piece without readings between others stands with no values
	Mean     []*float64 `json:"mean"`
	Min      []*float64 `json:"min"`
	Max      []*float64 `json:"max"`
	Readings int64      `json:"readings"`
}

// chartWidths are the widths that pieces may have: whole hours from one on, which the sums
// by hour serve.
var chartWidths = []int64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 2 * 3600, 3 * 3600, 6 * 3600, 12 * 3600, 24 * 3600, 7 * 24 * 3600}

// Bounds of a chart.
const (
	mostPieces  = 2000
	longestView = 60 * 366 * 24 * time.Hour
)

// Chart sums up what a sensor of a bench read, in at most so many pieces. A bench or a
// sensor that is not there gives [store.ErrNotFound]. Calibrations and units are those
// of now; that of the begin of a piece holds for all of it.
func (e *Engine) Chart(ctx context.Context, bench, key string, from, to time.Time, pieces int) (*Chart, error) {
	if !from.Before(to) || to.Sub(from) > longestView || pieces < 1 || pieces > mostPieces {
		return nil, fmt.Errorf("a chart is of a time that begins before it ends, of %d pieces at most", mostPieces)
	}
	x, err := e.find(ctx, bench, key)
	if err != nil {
		return nil, err
	}
	width := chartWidths[len(chartWidths)-1]
	for _, w := range chartWidths {
		if to.Sub(from) <= time.Duration(w)*time.Second*time.Duration(pieces) {
			width = w
			break
		}
	}
	step := width * store.Second
	begin := store.At(from) - mod(store.At(from), step)
	buckets, err := e.keep.Buckets(ctx, x.ID, begin, store.At(to), step)
	if err != nil {
		return nil, err
	}
	scale, unit := 1.0, x.m.Kind.Unit()
	if unit == "" {
		scale, unit = 100, "%"
	}
	c := &Chart{Unit: unit, From: from.UTC(), To: to.UTC(), Width: width, At: []int64{}, Mean: []*float64{}, Min: []*float64{}, Max: []*float64{}}
	value := func(at int64, v float64) *float64 {
		out := scale * x.value(at, v)
		return &out
	}
	for i, b := range buckets {
		if i > 0 && b.From-buckets[i-1].From > max(3*step, 3*int64(x.Every/time.Microsecond)) { // a gap is shown as one
			c.At = append(c.At, (buckets[i-1].From+step)/store.Second)
			c.Mean, c.Min, c.Max = append(c.Mean, nil), append(c.Min, nil), append(c.Max, nil)
		}
		low, high := value(b.From, b.Min), value(b.From, b.Max)
		if *low > *high { // a gain below nought
			low, high = high, low
		}
		c.At = append(c.At, b.From/store.Second)
		c.Mean, c.Min, c.Max = append(c.Mean, value(b.From, b.Mean())), append(c.Min, low), append(c.Max, high)
		c.Readings += b.N
	}
	return c, nil
}

// mod is a remainder that is never negative.
func mod(a, b int64) int64 { return ((a % b) + b) % b }

// find is a sensor of a bench that can be read.
func (e *Engine) find(ctx context.Context, bench, key string) (*sensor, error) {
	look := func() *sensor {
		e.mu.Lock()
		defer e.mu.Unlock()
		if h := e.states[bench]; h != nil {
			for _, x := range h.sensors {
				if x.Key == key && x.fault == nil {
					return x
				}
			}
		}
		return nil
	}
	if x := look(); x != nil {
		return x, nil
	}
	if err := e.refresh(ctx, bench); err != nil {
		return nil, err
	}
	if x := look(); x != nil {
		return x, nil
	}
	return nil, fmt.Errorf("sensor %q of bench %q: %w", key, bench, store.ErrNotFound)
}
