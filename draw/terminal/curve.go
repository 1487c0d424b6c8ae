package terminal

import (
	"math"
	"strings"

	"underlamp/draw"
	"underlamp/science/quantity"
)

// A Curve is values over days or hours, with a band if there is one: the middle as a
// line, the ends of the band as rows of dots.
type Curve struct {
	Style   Style
	Columns int // at most, the axis and its numbers included; below 30 is taken as 30
	Rows    int // of the picture itself, about; 0: 8

	Title  string    // what is drawn, with its unit
	Across string    // what X is, with its unit
	X      []float64 // ascending, at least two
	Y      []float64 // as many
	Low    []float64 // as many, or none
	High   []float64
	From0  bool // the axis begins at 0
}

// Braille patterns hold two by four dots: these are their bits, column by column from
// above (Unicode, chapter 21.1).
var dots = [2][4]rune{{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}}

// Text draws the curve.
func (c Curve) Text() string {
	if len(c.X) != len(c.Y) || len(c.Low) != len(c.High) || len(c.Low) != 0 && len(c.Low) != len(c.X) {
		panic("terminal: Curve: one value for each place is needed")
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, series := range [][]float64{c.Y, c.Low, c.High} {
		for _, v := range series {
			if finite(v) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	var b strings.Builder
	b.WriteString("  " + c.Title + "\n")
	if len(c.X) < 2 || math.IsInf(lo, 0) || !(c.X[len(c.X)-1] > c.X[0]) {
		b.WriteString("  no value is known\n")
		return b.String()
	}
	if c.From0 {
		lo = min(lo, 0)
	}
	limits, decimals := draw.Bands(lo, hi, 6)
	lo, hi = limits[0], limits[len(limits)-1]
	rows := c.Rows
	if rows <= 0 {
		rows = 8
	}
	// Each limit stands on a row of its own, and they are as far apart.
	steps := len(limits) - 1
	rows = 1 + steps*max(1, int(math.Round(float64(rows-1)/float64(steps))))
	labels := make([]string, rows)
	gutter := 0
	for _, l := range limits {
		r := int(math.Round((1 - (l-lo)/(hi-lo)) * float64(rows-1)))
		labels[r] = quantity.Fixed(l, decimals)
		gutter = max(gutter, Cells(labels[r]))
	}
	wide := max(c.Columns, leastWide) - gutter - 5

	p := plot{wide: wide, rows: rows, ascii: c.Style.ASCII, bits: make([]rune, wide*rows), letters: make([]byte, wide*rows)}
	x0, x1 := c.X[0], c.X[len(c.X)-1]
	w, h := p.size()
	at := func(series []float64, col int) float64 {
		i, u := between(c.X, x0+(float64(col)+0.5)/float64(w)*(x1-x0))
		if i+1 >= len(series) {
			return series[len(series)-1]
		}
		return series[i] + u*(series[i+1]-series[i])
	}
	y := func(v float64) int { return int(math.Round((1 - (v-lo)/(hi-lo)) * float64(h-1))) }
	for _, series := range [][]float64{c.Low, c.High} {
		for col := 0; col < w && len(series) > 0; col++ {
			if v := at(series, col); finite(v) && col%p.gap() == 0 {
				p.dot(col, y(v), '.')
			}
		}
	}
	last := math.MinInt
	for col := range w {
		v := at(c.Y, col)
		if !finite(v) {
			last = math.MinInt
			continue
		}
		// Steep parts are joined.
		now := y(v)
		from := now
		if last != math.MinInt && last != now {
			from = last + sign(now-last)
		}
		for r := from; ; r += sign(now - from) {
			p.dot(col, r, '*')
			if r == now {
				break
			}
		}
		last = now
	}

	for r := range rows {
		tick := " │"
		if labels[r] != "" {
			tick = " ┤"
		}
		if c.Style.ASCII {
			tick = " |"
		}
		b.WriteString(strings.TrimRight("  "+Pad(labels[r], gutter, true)+tick+p.row(r), " ") + "\n")
	}
	axis := "└" + strings.Repeat("─", wide)
	if c.Style.ASCII {
		axis = "+" + strings.Repeat("-", wide)
	}
	b.WriteString("  " + strings.Repeat(" ", gutter+1) + axis + "\n")
	first, end := quantity.Number(x0, 3), quantity.Number(x1, 3)
	room := wide - Cells(first) - Cells(end)
	name := Cut(c.Across, max(room-2, 0))
	before := max((room-Cells(name))/2, 0)
	b.WriteString("  " + strings.Repeat(" ", gutter+2) + first + strings.Repeat(" ", before) + name + strings.Repeat(" ", max(room-before-Cells(name), 0)) + end + "\n")
	return b.String()
}

func sign(n int) int {
	if n < 0 {
		return -1
	}
	return 1
}

// A plot is dots on an area of letters.
type plot struct {
	wide, rows int
	ascii      bool
	bits       []rune
	letters    []byte
}

// size is the dots across and down.
func (p *plot) size() (int, int) {
	if p.ascii {
		return p.wide, p.rows
	}
	return 2 * p.wide, 4 * p.rows
}

// gap is how far the dots of a band are apart.
func (p *plot) gap() int {
	if p.ascii {
		return 1
	}
	return 3
}

func (p *plot) dot(x, y int, letter byte) {
	w, h := p.size()
	if x < 0 || y < 0 || x >= w || y >= h {
		return
	}
	if p.ascii {
		p.letters[y*p.wide+x] = letter
		return
	}
	p.bits[y/4*p.wide+x/2] |= dots[x%2][y%4]
}

func (p *plot) row(r int) string {
	var b strings.Builder
	for k := range p.wide {
		i := r*p.wide + k
		switch {
		case p.ascii && p.letters[i] != 0:
			b.WriteByte(p.letters[i])
		case !p.ascii && p.bits[i] != 0:
			b.WriteRune(0x2800 + p.bits[i])
		default:
			b.WriteByte(' ')
		}
	}
	return b.String()
}

// Letters of the heights of a spark, low to high.
const (
	sparks      = "▁▂▃▄▅▆▇█"
	sparksASCII = "_.-=^"
)

// Spark is a line of the values, low to high between the least and the greatest of them,
// one letter each; what is missing is a blank. Equal values are all low.
func Spark(s Style, values []float64) string {
	letters := []rune(sparks)
	if s.ASCII {
		letters = []rune(sparksASCII)
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if finite(v) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	var b strings.Builder
	for _, v := range values {
		switch {
		case !finite(v):
			b.WriteByte(' ')
		case hi > lo:
			b.WriteRune(letters[min(int((v-lo)/(hi-lo)*float64(len(letters))), len(letters)-1)])
		default:
			b.WriteRune(letters[0])
		}
	}
	return b.String()
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
