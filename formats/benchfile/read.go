package benchfile

import (
	"fmt"
	"io"
	"math"

	"underlamp"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads and writes.
const Version = 1

// Ranges of what is read, in the unit of the kind. They are wider than anything
// a bench for leafy greens has; they catch slips of the pen.
var (
	sideSpan        = span{0.05, 50}
	heightSpan      = span{0.05, 10}
	temperatureSpan = span{-5, 50}
	humiditySpan    = span{0.01, 1}
	speedSpan       = span{0.01, 5}
	calciumSpan     = span{1, 1000}
	rivalSpan       = span{0, 2000}
	ecSpan          = span{0.1, 10}
	rootSpan        = span{1, 40}
	co2Span         = span{150, 5000}
	startSpan       = span{0.01, 50}
	saleableSpan    = span{5, 2000}
)

const (
	leastDays, mostDays = 7, 120
	mostPricePerKWh     = 10_000
	co2Warning          = 2000 // ppm
)

// Read reads a bench description. The bench is nil exactly when the problems
// hold an error; warnings may stand beside a bench. Problems are sorted by
// their place. The error is for what is no matter of the text: a failing reader,
// or [ErrTooLarge].
//
// What was not written gets its usual value, marked [underlamp.Default] with the
// reason; the table of them is in docs/formats/bench.md. Lengths come in m from
// the left, the front and the planting surface.
//
// Where a reading does not say how the lamps were dimmed, its dimming is that of
// its lamps in the file, marked as default; where they differ it is their mean by
// flux, and the caller does better to take each lamp's own.
//
// A bench that names a photometric file or a spectrum needs [ReadWith].
func Read(in io.Reader) (*underlamp.Bench, Problems, error) { return ReadWith(in, Files{}) }

// ReadWith is [Read] for a bench file in a folder, whose photometric files and
// spectra are opened by files.
func ReadWith(in io.Reader, files Files) (*underlamp.Bench, Problems, error) {
	data, err := slurp(in)
	if err != nil {
		return nil, nil, err
	}
	r := &reader{lines: 1, files: files}
	var b *underlamp.Bench
	if text, ok := r.text(data); ok {
		if top, ok := r.parse(text); ok {
			b = r.bench(value{node: top, at: place{1, 1}})
		}
	}
	r.problems.sort()
	if r.problems.HasErrors() {
		return nil, r.problems, nil
	}
	return b, r.problems, nil
}

// bench reads the whole description. Parts are read even when others are
// wrong, so that one run reports everything.
func (r *reader) bench(v value) *underlamp.Bench {
	f, ok := r.mapping(v, "")
	if !ok {
		return nil
	}
	b := &underlamp.Bench{Name: "Bench"}
	r.version(f.get("underlamp"))
	b.Units = r.system(f.get("units"))
	r.units = b.Units
	if name, ok := r.words(f.get("name"), maxName); ok {
		b.Name = name
	}
	b.Note, _ = r.words(f.get("note"), maxNote)

	b.Space = r.space(f.get("space"))
	b.Space.Walls = r.walls(f.get("walls"))
	b.Space.Shelves = r.shelves(f.get("shelves"), b.Space)
	lamps := r.lamps(f.get("lamps"), b)
	r.plants(f.get("plants"), b)
	b.Crop = r.crop(f.get("crop"), b)
	b.Air = r.air(f.get("air"))
	b.Feed = r.feed(f.get("feed"), b)
	b.Price = r.price(f.get("electricity"))
	r.limits(f.get("limits"), b, lamps)
	r.readings(f.get("readings"), b)
	return b
}

func (r *reader) version(v value) {
	want := fmt.Sprintf("underlamp: %d as the first line", Version)
	if !v.written() {
		r.missing(v, want, "the version of the format")
		return
	}
	n, ok := r.whole(v, 1, math.MaxInt32)
	if ok && n != Version {
		r.errorf(v, want, "the file is of version %d; this program reads version %d", n, Version)
	}
}

func (r *reader) system(v value) quantity.System {
	if !v.written() {
		return quantity.Metric
	}
	if i, ok := r.oneOf(v, []string{"metric", "us"}, map[string]string{"si": "metric"}); ok && i == 1 {
		return quantity.US
	}
	return quantity.Metric
}

// space reads the box. A side that is wrong stays 0, and what depends on it is
// not checked.
func (r *reader) space(v value) underlamp.Space {
	const want = "space: {width: 120 cm, depth: 60 cm, height: 45 cm}"
	if !v.written() {
		r.missing(v, want, "the size of the space")
		return underlamp.Space{}
	}
	f, ok := r.mapping(v, "space")
	if !ok {
		return underlamp.Space{}
	}
	w, _ := r.need(f.get("width"), quantity.Length, sideSpan, "the width of the space, left to right,")
	d, _ := r.need(f.get("depth"), quantity.Length, sideSpan, "the depth of the space, front to back,")
	h, _ := r.need(f.get("height"), quantity.Length, heightSpan, "the height from the planting surface to what is above")
	return underlamp.Space{Width: quantity.Metre(w), Depth: quantity.Metre(d), Height: quantity.Metre(h)}
}

func (r *reader) price(v value) underlamp.Given[quantity.Price] {
	usual := underlamp.Assumed(quantity.Price{PerKWh: 0.30, Currency: "EUR"}, "no price was given; 0.30 EUR/kWh only shows the order of size; common practice, no source")
	inner, origin, note, ok := r.said(v)
	if !ok || !inner.written() {
		return usual
	}
	const want = "for example 0.31 EUR/kWh"
	text, ok := r.scalar(inner, want)
	if !ok {
		return usual
	}
	p, err := quantity.ParsePrice(text)
	if err != nil {
		r.errorf(inner, want, "%s", firstClauses(err))
		return usual
	}
	if p.PerKWh > mostPricePerKWh {
		r.errorf(inner, want, "%s is far more than electricity costs", p)
		return usual
	}
	return underlamp.Given[quantity.Price]{Value: p, Origin: origin, Note: note}
}
