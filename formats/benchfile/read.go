package benchfile

import (
	"io"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// Version is the version of the format that this package reads and writes.
const Version = 1

// Ranges of what is read, in the unit of the kind. They are wider than anything
// a bench for leafy greens has; they catch slips of the pen.
var (
	sideSpan        = handwritten.Span{Min: 0.05, Max: 50}
	heightSpan      = handwritten.Span{Min: 0.05, Max: 10}
	temperatureSpan = handwritten.Span{Min: -5, Max: 50}
	humiditySpan    = handwritten.Span{Min: 0.01, Max: 1}
	speedSpan       = handwritten.Span{Min: 0.01, Max: 5}
	calciumSpan     = handwritten.Span{Min: 1, Max: 1000}
	rivalSpan       = handwritten.Span{Min: 0, Max: 2000}
	ecSpan          = handwritten.Span{Min: 0.1, Max: 10}
	rootSpan        = handwritten.Span{Min: 1, Max: 40}
	altitudeSpan    = handwritten.Span{Min: -430, Max: 5000}
	co2Span         = handwritten.Span{Min: 150, Max: 5000}
	startSpan       = handwritten.Span{Min: 0.01, Max: 50}
	saleableSpan    = handwritten.Span{Min: 5, Max: 2000}
)

const (
	leastDays, mostDays = 7, 120
	mostPricePerKWh     = 10_000
	co2Warning          = 2000 // ppm
)

// What is wrong with a bench file is said as in every file written by hand.
type (
	Problem  = handwritten.Problem
	Problems = handwritten.Problems
	Severity = handwritten.Severity
)

// The severities.
const (
	Error   = handwritten.Error
	Warning = handwritten.Warning
)

// ErrTooLarge is in the error of [Read] for more than 1 MiB of text.
var ErrTooLarge = handwritten.ErrTooLarge

// reader is a handwritten.Reader that can open the files beside a bench file.
type reader struct {
	*handwritten.Reader
	files Files
}

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
	r := &reader{Reader: &handwritten.Reader{Grammar: grammar}, files: files}
	return handwritten.Read(r.Reader, in, r.bench)
}

// bench reads the whole description. Parts are read even when others are
// wrong, so that one run reports everything.
func (r *reader) bench(v handwritten.Value) *underlamp.Bench {
	f, ok := r.Mapping(v, "")
	if !ok {
		return nil
	}
	b := &underlamp.Bench{Name: "Bench"}
	r.Version(f.Get("underlamp"), Version)
	b.Units = r.System(f.Get("units"), quantity.Metric)
	if name, ok := r.Words(f.Get("name"), handwritten.MaxName); ok {
		b.Name = name
	}
	b.Note, _ = r.Words(f.Get("note"), handwritten.MaxNote)

	b.Space = r.space(f.Get("space"))
	b.Space.Walls = r.walls(f.Get("walls"))
	b.Space.Shelves = r.shelves(f.Get("shelves"), b.Space)
	lamps := r.lamps(f.Get("lamps"), b)
	r.plants(f.Get("plants"), b)
	b.Crop = r.crop(f.Get("crop"), b)
	b.Air = r.air(f.Get("air"))
	b.Feed = r.feed(f.Get("feed"), b)
	b.Price = r.price(f.Get("electricity"), b)
	b.Room = r.room(f.Get("room"), b)
	r.costs(f.Get("costs"), b)
	r.sale(f.Get("sale"), b)
	r.limits(f.Get("limits"), b, lamps)
	r.readings(f.Get("readings"), b)
	b.Method = r.method(f.Get("method"))
	return b
}

// space reads the box. A side that is wrong stays 0, and what depends on it is
// not checked.
func (r *reader) space(v handwritten.Value) underlamp.Space {
	const want = "space: {width: 120 cm, depth: 60 cm, height: 45 cm}"
	f, ok := r.Part(v, "space", want, "the size of the space")
	if !ok {
		return underlamp.Space{}
	}
	w, _ := r.Need(f.Get("width"), quantity.Length, sideSpan, "the width of the space, left to right,")
	d, _ := r.Need(f.Get("depth"), quantity.Length, sideSpan, "the depth of the space, front to back,")
	h, _ := r.Need(f.Get("height"), quantity.Length, heightSpan, "the height from the planting surface to what is above")
	return underlamp.Space{Width: quantity.Metre(w), Depth: quantity.Metre(d), Height: quantity.Metre(h)}
}
