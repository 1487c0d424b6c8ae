package draw

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// A SettingsMap shows what settings do: PPFD across, hours of light up, bands of
// colour for mass per kWh, contours for the chance of burn, hatching where that
// is above the grower's limit, a ring where the bench is and a diamond where it
// should be.
type SettingsMap struct {
	Frame Frame

	Yield     Grid   // X is PPFD in µmol m⁻² s⁻¹, Y hours of light a day
	YieldName string // "Fresh mass per electricity"
	YieldUnit string // "g/kWh"

	Burn       []float64 // chance from 0 to 1 in the order of Yield.Values
	BurnLevels []float64 // chances to draw a line at
	Limit      float64   // the chance that the grower accepts; 0 or NaN if none

	DLIs      []quantity.DLI // levels for thin lines of equal daily light; may be empty
	Now, Best *Setting       // nil if not known
}

// A Setting is one point of the map.
type Setting struct {
	PPFD  quantity.PPFD
	Hours quantity.Hours
	Label string // "now", "best"
}

// Draw makes the picture. It panics if the grid is not well formed or Burn has
// not as many values.
func (s SettingsMap) Draw() Picture {
	s.Frame.check("SettingsMap")
	s.Yield.check("SettingsMap")
	if len(s.Burn) != len(s.Yield.Values) {
		panic("draw: SettingsMap: Burn has not as many values as Yield")
	}
	c := newCanvas(s.Frame)
	narrow := s.Frame.narrow()
	left, right, top := 66.0, 28.0, 18.0
	height := math.Min(0.58*c.w, 460)
	if narrow {
		left, right, height = 46, 14, 300
	}
	area := box{left, top, c.w - right, top + height}
	title := or(s.Frame.Title, "What settings do")
	desc := or(s.Frame.Desc, s.describe())
	if s.Yield.empty() {
		c.text(c.w/2, 40, middle, "no settings computed", softText)
		return Picture{SVG: c.svg(70, title, desc), Table: s.table(title), Title: title, Desc: desc}
	}
	gx, gy := s.Yield.X, s.Yield.Y
	m := mapper{linear(gx[0], gx[len(gx)-1], area.x0, area.x1), linear(gy[0], gy[len(gy)-1], area.y1, area.y0)}
	back := mapper{linear(area.x0, area.x1, gx[0], gx[len(gx)-1]), linear(area.y1, area.y0, gy[0], gy[len(gy)-1])}

	t := newTint(ScaleYield, s.Yield.Values, 12)
	ground := func(at point) (rgb, bool) { return t.of(s.Yield.at(back.x(at.x), back.y(at.y))) }
	c.bandFill(newTracer(s.Yield), m, t)
	burn := newTracer(Grid{gx, gy, s.Burn})
	limited := s.Limit > 0 && s.Limit < 1
	var hatch look
	if limited {
		hatch = c.hatch("above")
		c.path(m.project(burn.region(s.Limit)), true, hatch)
	}
	room := &placer{within: area.grown(-2)}
	for _, at := range [2]*Setting{s.Now, s.Best} {
		if at != nil && s.inside(at) {
			x, y := m.x(float64(at.PPFD)), m.y(float64(at.Hours))
			room.take(box{x - 11, y - 11, x + 11, y + 11})
		}
	}
	// All lines before all words, so that no line runs through a word.
	lines := s.burnLines(c, burn, m, limited)
	dlis := s.dlis(c, m)
	s.marks(c, m)
	s.markNames(c, m, ground, room)
	for _, l := range lines {
		c.labelLines(l.lines, l.text, 1, room, ground, l.bold)
	}
	s.dliNames(c, dlis, ground, room)

	c.rect(area, 0, softLine)
	bottom := s.axes(c, m, area)
	edge := 20.0
	if narrow {
		edge = 12
	}
	y := c.colours(edge, bottom+8, math.Min(c.w-2*edge, 460), t, join(s.YieldName, s.YieldUnit)) + 10
	y = c.key(edge, y, c.w-2*edge, s.key(limited, hatch))
	return Picture{SVG: c.svg(y+10, title, desc), Table: s.table(title), Title: title, Desc: desc}
}

// A line for the chance of burn lies over bands of any lightness, so it is dark
// upon a pale rim.
const (
	burnRim   look = `fill="none" stroke="#ffffff" stroke-opacity="0.55" stroke-width="3"`
	burnThin  look = `fill="none" stroke="#0d1117" stroke-width="1.1"`
	burnLimit look = `fill="none" stroke="#0d1117" stroke-width="2.4"`
)

// drawn is a contour in px and what to write on it.
type drawn struct {
	lines [][]point
	text  string
	bold  bool
}

func (s SettingsMap) burnLines(c *canvas, burn *tracer, m mapper, limited bool) []drawn {
	var all []drawn
	if limited {
		lines := m.project(burn.lines(s.Limit))
		c.path(lines, false, burnRim)
		c.path(lines, false, burnLimit)
		all = append(all, drawn{lines, "limit " + percent(s.Limit), true})
	}
	for _, level := range s.BurnLevels {
		if limited && level == s.Limit || !finite(level) {
			continue
		}
		lines := m.project(burn.lines(level))
		c.path(lines, false, burnRim)
		c.path(lines, false, burnThin)
		all = append(all, drawn{lines, percent(level), false})
	}
	return all
}

// dlis draws lines of equal daily light.
func (s SettingsMap) dlis(c *canvas, m mapper) (all []drawn) {
	x0, x1 := s.Yield.X[0], s.Yield.X[len(s.Yield.X)-1]
	y0, y1 := s.Yield.Y[0], s.Yield.Y[len(s.Yield.Y)-1]
	for _, d := range s.DLIs {
		var line []point
		const n = 96
		for i := 0; i <= n; i++ {
			h := y0 + (y1-y0)*float64(i)/n
			if e := float64(quantity.ConstantPPFD(d, quantity.Hours(h))); finite(e) && e >= x0 && e <= x1 {
				line = append(line, point{m.x(e), m.y(h)})
			}
		}
		if len(line) < 2 {
			continue
		}
		line = simplify(line, 0.25)
		c.path([][]point{line}, false, `fill="none" stroke="#0d1117" stroke-width="0.9" stroke-opacity="0.7" stroke-dasharray="1.5 4"`)
		text := quantity.Number(float64(d), 3) + " mol/m²/d"
		if s.Frame.narrow() {
			text = quantity.Number(float64(d), 3) + " mol"
		}
		all = append(all, drawn{[][]point{line}, text, false})
	}
	return all
}

// dliNames writes on the lines of equal daily light, near their ends, where the
// contours of burn leave room.
func (s SettingsMap) dliNames(c *canvas, all []drawn, ground func(point) (rgb, bool), room *placer) {
	for _, d := range all {
		for _, u := range [...]float64{0.93, 0.86, 0.07, 0.14, 0.78, 0.22} {
			p := along(d.lines[0], u)
			col, ok := ground(p)
			if ok && room.try(textBox(p.x, p.y+4, middle, d.text, smallSize).grown(2)) {
				c.haloed(p.x, p.y+4, middle, d.text, col, false)
				break
			}
		}
	}
}

// inside tells whether a setting lies on the map.
func (s SettingsMap) inside(at *Setting) bool {
	x, y := float64(at.PPFD), float64(at.Hours)
	return x >= s.Yield.X[0] && x <= s.Yield.X[len(s.Yield.X)-1] && y >= s.Yield.Y[0] && y <= s.Yield.Y[len(s.Yield.Y)-1]
}

func (s SettingsMap) marks(c *canvas, m mapper) {
	if s.Now != nil && s.inside(s.Now) {
		ringMark(c, m.x(float64(s.Now.PPFD)), m.y(float64(s.Now.Hours)))
	}
	if s.Best != nil && s.inside(s.Best) {
		diamondMark(c, m.x(float64(s.Best.PPFD)), m.y(float64(s.Best.Hours)))
	}
}

func ringMark(c *canvas, x, y float64) {
	c.circle(x, y, 7, `fill="none" stroke="#ffffff" stroke-width="5.5"`)
	c.circle(x, y, 7, `fill="none" stroke="#0d1117" stroke-width="2.4"`)
}

func diamondMark(c *canvas, x, y float64) {
	c.path([][]point{{{x, y - 9}, {x + 9, y}, {x, y + 9}, {x - 9, y}}}, true,
		`fill="#0d1117" stroke="#ffffff" stroke-width="1.8" stroke-linejoin="round"`)
}

func (s SettingsMap) markNames(c *canvas, m mapper, ground func(point) (rgb, bool), room *placer) {
	for _, at := range [2]*Setting{s.Now, s.Best} {
		if at == nil || at.Label == "" || !s.inside(at) {
			continue
		}
		x, y := m.x(float64(at.PPFD)), m.y(float64(at.Hours))
		for _, try := range [...]struct {
			x, y   float64
			anchor string
		}{{x + 15, y + 4.2, start}, {x - 15, y + 4.2, end}, {x, y - 16, middle}, {x, y + 24, middle}} {
			b := textBox(try.x, try.y, try.anchor, at.Label, smallSize)
			col, ok := ground(point{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2})
			if ok && room.try(b.grown(1)) {
				c.haloed(try.x, try.y, try.anchor, at.Label, col, true)
				break
			}
		}
	}
}

// axes writes both axes and returns the y below them.
func (s SettingsMap) axes(c *canvas, m mapper, area box) float64 {
	at, decimals := ticks(s.Yield.X[0], s.Yield.X[len(s.Yield.X)-1], int(area.w()/52))
	for _, v := range at {
		c.line(m.x(v), area.y1, m.x(v), area.y1+5, softLine)
		c.small(m.x(v), area.y1+19, middle, quantity.Fixed(v, decimals), softText)
	}
	at, decimals = ticks(s.Yield.Y[0], s.Yield.Y[len(s.Yield.Y)-1], int(area.h()/30))
	for _, v := range at {
		c.line(area.x0-5, m.y(v), area.x0, m.y(v), softLine)
		c.small(area.x0-9, m.y(v)+4, end, quantity.Fixed(v, decimals), softText)
	}
	c.small((area.x0+area.x1)/2, area.y1+38, middle, "PPFD, "+quantity.PhotonFluxDensity.Unit(), softText)
	c.sized(16, (area.y0+area.y1)/2, middle, "light a day, h", smallSize, -90, softText)
	return area.y1 + 50
}

func (s SettingsMap) key(limited bool, hatch look) []keyItem {
	var items []keyItem
	if s.Now != nil && s.inside(s.Now) {
		items = append(items, keyItem{func(c *canvas, x, y float64) { ringMark(c, x+13, y) }, "the bench now"})
	}
	if s.Best != nil && s.inside(s.Best) {
		items = append(items, keyItem{func(c *canvas, x, y float64) { diamondMark(c, x+13, y) }, "best setting"})
	}
	if len(s.BurnLevels) > 0 || limited {
		items = append(items, keyItem{lineSample(inkLine), "chance of burn"})
	}
	if limited {
		items = append(items, keyItem{func(c *canvas, x, y float64) {
			b := box{x, y - 7, x + sampleWidth, y + 7}
			c.rect(b, 0, `fill="#e9e6da"`)
			c.rect(b, 0, hatch)
		}, "above the limit of " + percent(s.Limit)})
	}
	if len(s.DLIs) > 0 {
		items = append(items, keyItem{lineSample(`class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1" stroke-dasharray="1.5 4"`), "equal DLI"})
	}
	return items
}

// figures prints what the maps say at a setting.
func (s SettingsMap) figures(at *Setting) (yield, burn string) {
	x, y := float64(at.PPFD), float64(at.Hours)
	return quantity.Number(s.Yield.at(x, y), 3), percent(Grid{s.Yield.X, s.Yield.Y, s.Burn}.at(x, y))
}

func (s SettingsMap) describe() string {
	d := "PPFD across, hours of light up. "
	for i, at := range [2]*Setting{s.Now, s.Best} {
		if at == nil || s.Yield.empty() {
			continue
		}
		yield, burn := s.figures(at)
		d += fmt.Sprintf("%s: %s for %s h, %s, chance of burn %s. ", [2]string{"Now", "Best"}[i],
			quantity.PhotonFluxDensity.Format(float64(at.PPFD), s.Frame.Units, 3), quantity.Number(float64(at.Hours), 3),
			amount(yield, s.YieldUnit), burn)
	}
	return d + "The table gives the numbers."
}

// table has the two settings, and the map thinned to at most 7 by 7.
func (s SettingsMap) table(title string) Table {
	t := Table{Caption: title, Head: []string{"What", "PPFD, " + quantity.PhotonFluxDensity.Unit(), "Light a day, h", join(or(s.YieldName, "Yield"), s.YieldUnit), "Chance of burn"}}
	if s.Yield.empty() {
		return t
	}
	for i, at := range [2]*Setting{s.Now, s.Best} {
		if at != nil {
			yield, burn := s.figures(at)
			t.Rows = append(t.Rows, []string{[2]string{"Now", "Best"}[i], quantity.Number(float64(at.PPFD), 3), quantity.Number(float64(at.Hours), 3), yield, burn})
		}
	}
	for _, j := range thin(len(s.Yield.Y), 7) {
		for _, i := range thin(len(s.Yield.X), 7) {
			k := j*len(s.Yield.X) + i
			t.Rows = append(t.Rows, []string{"Setting", quantity.Number(s.Yield.X[i], 3), quantity.Number(s.Yield.Y[j], 3), quantity.Number(s.Yield.Values[k], 3), percent(s.Burn[k])})
		}
	}
	return t
}

// thin picks at most k of n indices, evenly, both ends included.
func thin(n, k int) []int {
	k = min(n, k)
	out := make([]int, 0, k)
	for i := range k {
		out = append(out, int(math.Round(float64(i)*float64(n-1)/float64(max(k-1, 1)))))
	}
	return out
}
