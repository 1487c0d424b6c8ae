package draw

import (
	"fmt"
	"math"
	"sort"

	"underlamp/science/quantity"
)

// Spectrum is the light of a lamp by wavelength: photons for each nm, with the
// bands that plants tell apart. The bands differ in pattern and stand under
// their names, so that no colour has to be seen.
type Spectrum struct {
	Frame   Frame
	Name    string    // "Hollin bar 42"
	NM      []float64 // wavelengths, ascending
	Photons []float64 // for each nm, one for each wavelength
	Unit    string    // of Photons: "µmol/s for each nm"; empty if relative
	Bands   []SpectrumBand
}

// A SpectrumBand is a range of wavelengths to mark.
type SpectrumBand struct {
	Name     string  // "blue"
	From, To float64 // nm
	Share    float64 // of the photons of 400 to 700 nm; NaN if it is not to be shown
}

// The patterns of bands in the order given, as paths within a tile of 8 px, and
// the number of the series whose colour they take.
var bandPatterns = [...]struct {
	path   string
	series int
}{
	{"M2 2H3.4M6 6H7.4", 4},                     // dots
	{"M2 0V8M6 0V8", 0},                         // upright
	{"M-1 5L5 -1M3 9L9 3", 2},                   // rising
	{"M-1 3L5 9M3 -1L9 5", 1},                   // falling
	{"M0 2H8M0 6H8", 3},                         // level
	{"M0 4H8M4 0V8", 4},                         // squares
	{"M-1 5L5 -1M3 9L9 3M-1 3L5 9M3 -1L9 5", 0}, // crossed
}

// pattern defines the pattern of the i-th band and returns the look that fills
// with it.
func (c *canvas) pattern(i int) look {
	p := bandPatterns[i%len(bandPatterns)]
	name := fmt.Sprintf("%s-band%d", c.id, i)
	k := string(rune('0' + p.series))
	c.tail += `<pattern id="` + name + `" width="8" height="8" patternUnits="userSpaceOnUse"><path d="` + p.path +
		`" class="d-s` + k + `" fill="none" stroke="` + seriesHex[p.series] + `" stroke-width="1.3"/></pattern>`
	return look(`fill="url(#` + name + `)"`)
}

// Draw makes the picture. It panics if wavelengths do not ascend or there are
// not as many values.
func (s Spectrum) Draw() Picture {
	s.Frame.check("Spectrum")
	if len(s.NM) != len(s.Photons) {
		panic("draw: Spectrum: not as many values as wavelengths")
	}
	for i, x := range s.NM {
		if !finite(x) || i > 0 && x <= s.NM[i-1] {
			panic("draw: Spectrum: NM must ascend")
		}
	}
	c := newCanvas(s.Frame)
	left, right, height := 60.0, 20.0, 260.0
	if s.Frame.narrow() {
		left, right, height = 46, 12, 210
	}
	title := or(s.Frame.Title, or(s.Name, "Spectrum"))
	desc := or(s.Frame.Desc, s.describe())
	y := 12.0
	c.text(14, y+fontSize, start, cut(join("Photons", or(s.Unit, "relative")), c.w-28, fontSize), boldText)
	y += 30
	top := 0.0
	for _, v := range s.Photons {
		if finite(v) {
			top = math.Max(top, v)
		}
	}
	limits, decimals := bands(0, top, 5)
	area := box{left, y + 38, c.w - right, y + 38 + height}
	if len(s.NM) < 2 || len(limits) == 0 || top == 0 {
		c.line(area.x0, area.y1, area.x1, area.y1, softLine)
		c.text((area.x0+area.x1)/2, (area.y0+area.y1)/2, middle, "no values", softText)
		return Picture{SVG: c.svg(area.y1+20, title, desc), Table: s.table(title), Title: title, Desc: desc}
	}
	first, last := s.NM[0], s.NM[len(s.NM)-1]
	fx := linear(first, last, area.x0, area.x1)
	fy := linear(0, limits[len(limits)-1], area.y1, area.y0)
	for i, v := range limits {
		style := ruleLine
		if i == 0 {
			style = softLine
		}
		c.line(area.x0, fy(v), area.x1, fy(v), style)
		c.small(area.x0-8, fy(v)+4, end, quantity.Fixed(v, decimals), softText)
	}
	var items []keyItem
	for i, b := range s.Bands {
		from, to := math.Max(b.From, first), math.Min(b.To, last)
		if !(from < to) {
			continue
		}
		fill := c.pattern(i)
		ring := []point{{fx(from), area.y1}}
		for _, p := range s.within(from, to) {
			ring = append(ring, point{fx(p.x), fy(math.Max(0, p.y))})
		}
		ring = append(ring, point{fx(to), area.y1})
		ring = simplify(ring, 0.2)
		c.path([][]point{ring}, true, seriesBand(bandPatterns[i%len(bandPatterns)].series))
		c.path([][]point{ring}, true, fill)
		for _, edge := range [2]float64{from, to} {
			if edge > first && edge < last {
				c.line(fx(edge), area.y0-34, fx(edge), area.y1, softDash)
			}
		}
		s.label(c, b, fx(from), fx(to), area.y0)
		items = append(items, keyItem{patternSample(fill), b.words()})
	}
	var curves [][]point
	var run []point
	for i, v := range s.Photons {
		if finite(v) {
			run = append(run, point{fx(s.NM[i]), fy(v)})
			continue
		}
		curves, run = append(curves, simplify(run, 0.1)), nil
	}
	c.path(append(curves, simplify(run, 0.1)), false, inkLine)
	at, decimals := ticks(first, last, int(math.Max(2, (area.x1-area.x0)/52)))
	for _, v := range at {
		c.line(fx(v), area.y1, fx(v), area.y1+5, softLine)
		c.small(fx(v), area.y1+19, middle, quantity.Fixed(v, decimals), softText)
	}
	c.small((area.x0+area.x1)/2, area.y1+37, middle, "wavelength, nm", softText)
	y = c.key(14, area.y1+46, c.w-28, items)
	return Picture{SVG: c.svg(y+8, title, desc), Table: s.table(title), Title: title, Desc: desc}
}

// label writes name and share of a band above the area, where they have room.
func (s Spectrum) label(c *canvas, b SpectrumBand, x0, x1, y float64) {
	if textWidth(b.Name, smallSize) <= x1-x0-2 {
		c.small((x0+x1)/2, y-22, middle, b.Name, inkText)
	}
	if share := b.share(); share != "" && textWidth(share, smallSize) <= x1-x0-2 {
		c.small((x0+x1)/2, y-7, middle, share, inkText)
	}
}

func (b SpectrumBand) share() string {
	if !finite(b.Share) {
		return ""
	}
	if math.Abs(b.Share) < 0.0005 {
		return "0 %" // what is left of a curve's tail
	}
	return percent(b.Share)
}

// words is "blue, 400–500 nm: 14 %".
func (b SpectrumBand) words() string {
	s := fmt.Sprintf("%s, %s–%s nm", b.Name, quantity.Number(b.From, 4), quantity.Number(b.To, 4))
	if share := b.share(); share != "" {
		s += ": " + share
	}
	return s
}

// patternSample shows a filled box.
func patternSample(fill look) func(*canvas, float64, float64) {
	return func(c *canvas, x, y float64) {
		b := box{x, y - 8, x + sampleWidth, y + 8}
		c.rect(b, 0, fill)
		c.rect(b, 0, softLine)
	}
}

// at is the value at a wavelength, by a straight line; NaN outside and in holes.
func (s Spectrum) at(nm float64) float64 {
	i := sort.SearchFloat64s(s.NM, nm)
	switch {
	case i < len(s.NM) && s.NM[i] == nm:
		return s.Photons[i]
	case i == 0 || i == len(s.NM):
		return math.NaN()
	}
	return s.Photons[i-1] + (s.Photons[i]-s.Photons[i-1])*(nm-s.NM[i-1])/(s.NM[i]-s.NM[i-1])
}

// within returns the curve between two wavelengths, holes left out.
func (s Spectrum) within(from, to float64) []point {
	var out []point
	add := func(x, v float64) {
		if finite(v) {
			out = append(out, point{x, v})
		}
	}
	add(from, s.at(from))
	for i, x := range s.NM {
		if x > from && x < to {
			add(x, s.Photons[i])
		}
	}
	add(to, s.at(to))
	return out
}

// mean is the mean of the curve between two wavelengths.
func (s Spectrum) mean(from, to float64) float64 {
	p := s.within(from, to)
	if len(p) < 2 {
		return math.NaN()
	}
	sum := 0.0
	for i := 1; i < len(p); i++ {
		sum += (p[i].x - p[i-1].x) * (p[i].y + p[i-1].y) / 2
	}
	return sum / (p[len(p)-1].x - p[0].x)
}

// describe names the peak and the shares.
func (s Spectrum) describe() string {
	text := ""
	peak := -1
	for i, v := range s.Photons {
		if finite(v) && (peak < 0 || v > s.Photons[peak]) {
			peak = i
		}
	}
	if peak >= 0 {
		text = fmt.Sprintf("The most photons are at %s nm. ", quantity.Number(s.NM[peak], 4))
	}
	for _, b := range s.Bands {
		if b.share() != "" {
			text += b.words() + ". "
		}
	}
	return text + "The table gives the numbers."
}

// tableStep is the width of the rows of the table in nm.
const tableStep = 10

func (s Spectrum) table(title string) Table {
	t := Table{Caption: title, Head: []string{"wavelengths", join("mean photons", or(s.Unit, "relative")), "share of 400–700 nm"}}
	for _, b := range s.Bands {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%s, %s–%s nm", b.Name, quantity.Number(b.From, 4), quantity.Number(b.To, 4)),
			quantity.Number(s.mean(b.From, b.To), 3), b.share()})
	}
	if len(s.NM) < 2 {
		return t
	}
	first, last := s.NM[0], s.NM[len(s.NM)-1]
	// Of no use beyond some hundred rows.
	step := tableStep * math.Max(1, math.Ceil((last-first)/(tableStep*150)))
	for k := math.Floor(first / step); k*step < last; k++ {
		from, to := math.Max(first, k*step), math.Min(last, (k+1)*step)
		if from < to {
			t.Rows = append(t.Rows, []string{fmt.Sprintf("%s–%s nm", quantity.Number(from, 4), quantity.Number(to, 4)), quantity.Number(s.mean(from, to), 3), ""})
		}
	}
	return t
}
