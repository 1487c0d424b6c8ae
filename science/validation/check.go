package validation

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/diagnosis"
	"underlamp/science/reference"
)

// Purposes of a check.
const (
	Published   = "check"                   // a published result that no parameter was fitted to
	Calibrated  = "calibrate"               // a published result that parameters were fitted to
	Practice    = "common practice"         // no source
	Independent = "independent computation" // the same equations by other code or by hand: must hold
)

// Kinds of a check.
const (
	Value = "value" // Got must lie between Low and High
	Order = "order" // one treatment must exceed another; Held says whether it does
)

// A Check is one comparison with something outside the tool.
type Check struct {
	Area     string // air, leaf, room, feed, light, photometry, spectrum, aim, learning, statistics, quantities, growth, tipburn, trouble, photos
	Name     string // begins with the case where there is a table of cases; unique
	Source   string // key in the bibliography; empty for common practice and where the note names the works
	Purpose  string
	Unit     string
	Kind     string
	Expected float64 // NaN for an order
	Low      float64 // least and most that still hold
	High     float64
	Got      float64
	SpanLow  float64 // least and most of Got when what was not printed is assumed otherwise;
	SpanHigh float64 // both NaN where nothing was assumed
	Held     bool
	Note     string // what was assumed, what the figures are
}

// Case is the first word of the name.
func (c Check) Case() string { w, _, _ := strings.Cut(c.Name, " "); return w }

// ErrorPercent is how far the result is from the expectation, in percent of it;
// NaN for an order and for an expectation of 0.
func (c Check) ErrorPercent() float64 {
	if c.Expected == 0 {
		return math.NaN()
	}
	return 100 * (c.Got - c.Expected) / math.Abs(c.Expected)
}

// Counted reports whether the check says something about the tool: rows that
// were used to calibrate do not.
func (c Check) Counted() bool { return c.Purpose != Calibrated }

// All runs every check. Evidence is the table of evidence that ranks causes of trouble.
func All(evidence *diagnosis.Table) []Check {
	return slices.Concat(Quantities(), Air(), Leaf(), RoomAir(), Light(), Photometry(), Spectrum(), Residual(), Aim(), Learning(), Statistics(), Growth(), Tipburn(), Trouble(evidence), Feed(), Plants())
}

var none = math.NaN()

// value makes a check that a figure lies between bounds.
func value(area, name, source, purpose, unit string, got, want, low, high float64) Check {
	return Check{
		Area: area, Name: name, Source: source, Purpose: purpose, Unit: unit, Kind: Value,
		Expected: want, Low: low, High: high, Got: got, SpanLow: none, SpanHigh: none,
		Held: got >= low && got <= high,
	}
}

// near makes a check that a figure lies within a tolerance of another.
func near(area, name, source, purpose, unit string, got, want, tolerance float64) Check {
	return value(area, name, source, purpose, unit, got, want, want-tolerance, want+tolerance)
}

// order makes a check of a direction.
func order(area, name, source, purpose string, held bool, note string) Check {
	return Check{
		Area: area, Name: name, Source: source, Purpose: purpose, Kind: Order,
		Expected: none, Low: none, High: none, Got: none, SpanLow: none, SpanHigh: none, Held: held, Note: note,
	}
}

// row reads one table by column names.
type row struct {
	table reference.Table
	at    int
}

func rows(name string) []row {
	t := reference.MustLoad(name)
	out := make([]row, len(t.Rows))
	for i := range out {
		out[i] = row{t, i}
	}
	return out
}

func (r row) f(column string) float64   { return r.table.Float(r.at, column) }
func (r row) text(column string) string { return r.table.Text(r.at, column) }

// number prints a figure with four digits, a blank for none.
func number(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return fmt.Sprintf("%.4g", v)
}
