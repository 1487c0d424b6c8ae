package draw

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"underlamp/science/quantity"
)

// Lines are curves over days, in one panel or in several that share the days:
// fresh mass with its band; calcium supply against demand above the
// concentration in the leaf.
type Lines struct {
	Frame   Frame
	X       []float64 // ascending
	XName   string    // "day after transplanting"
	Classes []string  // names of X where it counts classes, 1, 2, …, with nothing between them
	Panels  []Panel   // from the top down
	Markers []Marker
}

// A Panel has its own y axis.
type Panel struct {
	Name   string // "Fresh mass of a head"
	Unit   string
	Series []Series
	Points []Points
	Limits []Limit
	Zero   bool // the axis begins at 0
}

// Points are what was seen, each at its own X: they lie over the curves.
type Points struct {
	Name   string // "weighed"
	At     []Dot
	Spread bool    // points of one X that would cover each other stand side by side
	Within float64 // in X, how far aside they may stand; 0: as far as they must, up to some dots
	Shift  float64 // in X, how far beside their place all of them are drawn, as others are seen at the same X
	Faint  bool    // small and soft: many that lie behind few
	Of     string  // the series whose colour faint ones have; empty: soft ink
}

// A Dot is one point. One that is Odd, such as an observation that fits nothing
// else, is drawn hollow. A Label stands beside it.
type Dot struct {
	X, Y  float64
	Odd   bool
	Label string
}

// A Series is one curve. Low and High, if given, are its band.
type Series struct {
	Name      string
	Y         []float64 // one value for each X; NaN breaks the line
	Low, High []float64 // nil, or one value for each X
}

// A Limit is a level across a panel.
type Limit struct {
	Value float64
	Label string
}

// A Marker is an event: a line down all panels.
type Marker struct {
	X     float64
	Label string // "first burn could show, day 23"
}

// Draw makes the picture. It panics if X does not ascend or a series has not as
// many values as X.
func (l Lines) Draw() Picture {
	l.Frame.check("Lines")
	for i, x := range l.X {
		if !finite(x) || i > 0 && x <= l.X[i-1] {
			panic("draw: Lines: X must ascend")
		}
	}
	for _, p := range l.Panels {
		for _, s := range p.Series {
			if len(s.Y) != len(l.X) || s.Low != nil && len(s.Low) != len(l.X) || s.High != nil && len(s.High) != len(l.X) || (s.Low == nil) != (s.High == nil) {
				panic("draw: Lines: series " + s.Name + " has not as many values as X")
			}
		}
	}
	c := newCanvas(l.Frame)
	narrow := l.Frame.narrow()
	left, right := 60.0, 24.0
	height := 230.0
	if narrow {
		left, right, height = 46, 14, 190
	}
	// Names stand at the ends of their lines if they leave the lines enough room;
	// if not, in a key above.
	widest := 0.0
	for _, p := range l.Panels {
		for _, s := range p.Series {
			widest = math.Max(widest, textWidth(s.Name, fontSize))
		}
	}
	atEnds := widest > 0 && widest < 0.3*c.w
	if atEnds {
		right = widest + 26
	}
	x0, x1 := left, c.w-right
	first, last := 0.0, 1.0
	if n := len(l.X); n > 0 {
		first, last = l.X[0], l.X[n-1]
		for _, p := range l.Panels {
			for _, pts := range p.Points {
				for _, d := range pts.At {
					if finite(d.X) && finite(d.Y) {
						first, last = math.Min(first, d.X+pts.Shift), math.Max(last, d.X+pts.Shift)
					}
				}
			}
		}
	}
	if l.Classes != nil {
		first, last = first-0.5, last+0.5
	}
	fx := linear(first, last, x0, x1)

	y := 12.0
	colors := l.colors()
	for i, p := range l.Panels {
		color := colors[i]
		for k, line := range wrap(join(p.Name, p.Unit), (c.w-28)/boldWider, fontSize) {
			if k > 0 {
				y += 18
			}
			c.text(x0-left+14, y+fontSize, start, line, boldText)
		}
		y += 26
		if items := p.key(color, !atEnds); len(items) > 0 {
			y = c.key(14, y, c.w-28, items) + 4
		}
		if i == 0 {
			y += l.markerNames(c, fx, box{x0, y, c.w - 8, y + height})
		} else {
			y += 6
		}
		area := box{x0, y, x1, y + height}
		for _, m := range l.Markers {
			if m.X >= first && m.X <= last {
				c.line(fx(m.X), area.y0-4, fx(m.X), area.y1, softDash)
			}
		}
		l.panel(c, p, color, area, fx, atEnds)
		y = area.y1
		if i < len(l.Panels)-1 {
			y += 34
		}
	}
	at, decimals := ticks(first, last, int(math.Max(2, (x1-x0)/44)))
	named, rows := l.Classes != nil, 1 // there is room for the names of classes at their places, in so many lines
	if l.Classes != nil {
		at, decimals = nil, 0
		for v := math.Ceil(first); v <= last; v++ {
			at = append(at, v)
			lines := wrap(l.class(v), fx(v+1)-fx(v)-8, smallSize)
			rows = max(rows, len(lines))
			named = named && len(lines) <= 4 && !slices.ContainsFunc(lines, func(s string) bool { return strings.HasSuffix(s, "…") })
		}
	}
	for _, v := range at {
		if len(l.X) == 0 {
			break
		}
		c.line(fx(v), y, fx(v), y+5, softLine)
		if !named {
			c.small(fx(v), y+19, middle, quantity.Fixed(v, decimals), softText)
			continue
		}
		for i, s := range wrap(l.class(v), fx(v+1)-fx(v)-8, smallSize) {
			c.small(fx(v), y+19+15*float64(i), middle, s, softText)
		}
	}
	if named {
		y += 15 * float64(rows-1)
	}
	name := l.XName
	if l.Classes != nil && !named {
		var names []string
		for i, s := range l.Classes {
			names = append(names, fmt.Sprintf("%d: %s", i+1, s))
		}
		name += ": " + strings.Join(names, ", ")
	}
	under := []string{cut(name, c.w-20, smallSize)}
	if l.Classes != nil {
		under = wrap(name, c.w-20, smallSize)
	}
	for i, line := range under {
		if i > 0 {
			y += 16
		}
		c.small((x0+x1)/2, y+38, middle, line, softText)
	}

	title := or(l.Frame.Title, l.name())
	desc := or(l.Frame.Desc, l.describe())
	return Picture{SVG: c.svg(y+50, title, desc), Table: l.table(title), Title: title, Desc: desc}
}

// colors numbers the looks of the series by panel: those of one name share one, in
// whatever panel they are.
func (l Lines) colors() [][]int {
	byName := map[string]int{}
	next := 0
	out := make([][]int, len(l.Panels))
	for i, p := range l.Panels {
		for _, s := range p.Series {
			k, ok := byName[s.Name]
			if !ok {
				k = next
				next++
				byName[s.Name] = k
			}
			out[i] = append(out[i], k)
		}
	}
	return out
}

// panel draws one panel without its x axis. color are the looks of its series.
func (l Lines) panel(c *canvas, p Panel, color []int, area box, fx func(float64) float64, atEnds bool) {
	lo, hi := p.span()
	limits, decimals := bands(lo, hi, 6)
	if len(limits) == 0 {
		c.line(area.x0, area.y1, area.x1, area.y1, softLine)
		c.text((area.x0+area.x1)/2, (area.y0+area.y1)/2, middle, "no values", softText)
		return
	}
	fy := linear(limits[0], limits[len(limits)-1], area.y1, area.y0)
	for i, v := range limits {
		style := ruleLine
		if i == 0 {
			style = softLine
		}
		c.line(area.x0, fy(v), area.x1, fy(v), style)
		c.small(area.x0-8, fy(v)+4, end, quantity.Fixed(v, decimals), softText)
	}
	for i, s := range p.Series {
		if s.Low != nil {
			for _, run := range l.runs(func(k int) bool { return finite(s.Low[k]) && finite(s.High[k]) }) {
				var ring []point
				for k := run[0]; k < run[1]; k++ {
					ring = append(ring, point{fx(l.X[k]), fy(s.High[k])})
				}
				for k := run[1] - 1; k >= run[0]; k-- {
					ring = append(ring, point{fx(l.X[k]), fy(s.Low[k])})
				}
				c.path([][]point{ring}, true, seriesBand(color[i]))
			}
		}
	}
	for i, s := range p.Series {
		var curves [][]point
		for _, run := range l.runs(func(k int) bool { return finite(s.Y[k]) }) {
			if run[1]-run[0] == 1 {
				c.circle(fx(l.X[run[0]]), fy(s.Y[run[0]]), 2.5, seriesFill(color[i]))
				continue
			}
			var curve []point
			for k := run[0]; k < run[1]; k++ {
				curve = append(curve, point{fx(l.X[k]), fy(s.Y[k])})
			}
			curves = append(curves, simplify(curve, 0.1))
		}
		c.path(curves, false, seriesLine(color[i]))
	}
	for _, lim := range p.Limits {
		if !finite(lim.Value) {
			continue
		}
		y := fy(lim.Value)
		c.line(area.x0, y, area.x1, y, `class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.2" stroke-dasharray="10 4"`)
		c.limitLabel(l, p, lim, y, area, fx, fy)
	}
	for i, pts := range p.Points {
		aside := pts.aside(fx, fy)
		for k, d := range pts.At {
			if finite(d.X) && finite(d.Y) {
				pts.dot(c, fx(d.X+pts.Shift)+aside[k], fy(d.Y), i, p.colorOf(pts, color), d.Odd)
				if d.Label != "" {
					text := cut(d.Label, area.w()/2, smallSize)
					if fx(d.X) > (area.x0+area.x1)/2 {
						c.onPaper(fx(d.X)-8, fy(d.Y)+4, end, text, inkText)
					} else {
						c.onPaper(fx(d.X)+8, fy(d.Y)+4, start, text, inkText)
					}
				}
			}
		}
	}
	if atEnds {
		l.endNames(c, p, color, area, fx, fy)
	}
}

// Sizes of points that stand side by side.
const (
	dotWidth   = 8.0  // that a dot needs beside another
	faintWidth = 6.4  // that a faint one needs
	mostAside  = 20.0 // beyond it points cover each other after all
)

// aside is how far each point is moved along x so that it covers no other of its X: the
// nearest free place right or left, from the lowest point up.
func (pts Points) aside(fx, fy func(float64) float64) []float64 {
	out := make([]float64, len(pts.At))
	if !pts.Spread {
		return out
	}
	order := make([]int, len(pts.At))
	for i := range order {
		order[i] = i
	}
	width := dotWidth
	if pts.Faint {
		width = faintWidth
	}
	sort.SliceStable(order, func(a, b int) bool { return pts.At[order[a]].Y < pts.At[order[b]].Y })
	var placed []int
	for _, k := range order {
		d := pts.At[k]
		if !finite(d.X) || !finite(d.Y) {
			continue
		}
		free := func(by float64) bool {
			for _, o := range placed {
				q := pts.At[o]
				if math.Hypot(fx(q.X)+out[o]-fx(d.X)-by, fy(q.Y)-fy(d.Y)) < width-1e-9 {
					return false
				}
			}
			return true
		}
		most := mostAside
		if pts.Within > 0 {
			most = math.Min(most, math.Abs(fx(d.X+pts.Within)-fx(d.X)))
		}
		for by := 0.0; by <= most; by += width / 2 {
			if free(by) {
				out[k] = by
				break
			}
			if free(-by) {
				out[k] = -by
				break
			}
		}
		placed = append(placed, k)
	}
	return out
}

// colorOf is the look of the series that points belong to, or -1.
func (p Panel) colorOf(pts Points, color []int) int {
	for i, s := range p.Series {
		if pts.Of != "" && s.Name == pts.Of {
			return color[i]
		}
	}
	return -1
}

// dot draws one of the points; kind is the number of its kind, color that of its series.
func (pts Points) dot(c *canvas, x, y float64, kind, color int, odd bool) {
	switch {
	case !pts.Faint || odd:
		dot(c, x, y, kind, odd)
	case color < 0:
		mark(c, x, y, 0.78, 0, `class="d-soft d-paper-line" fill="#535e6b" fill-opacity="0.55" stroke="#ffffff" stroke-width="0.6"`)
	default:
		mark(c, x, y, 0.78, kind, look(fmt.Sprintf(`class="d-f%d d-paper-line" fill="%s" fill-opacity="0.6" stroke="#ffffff" stroke-width="0.6"`, color%len(seriesHex), seriesHex[color%len(seriesHex)])))
	}
}

// class is the name at a whole X.
func (l Lines) class(x float64) string {
	if i := int(x) - 1; i >= 0 && i < len(l.Classes) {
		return l.Classes[i]
	}
	return ""
}

// dot marks an observation: a disc, a diamond or a triangle by the number of its
// kind, in ink with a rim of paper, hollow if it is odd.
func dot(c *canvas, x, y float64, kind int, odd bool) {
	var l look = `class="d-ink d-paper-line" fill="#1b2430" stroke="#ffffff" stroke-width="1.2"`
	if odd {
		l = `class="d-paper d-ink-line" fill="#ffffff" stroke="#1b2430" stroke-width="1.4"`
	}
	mark(c, x, y, 1, kind, l)
}

// mark is the shape of a kind of observation, so many times the usual size.
func mark(c *canvas, x, y, size float64, kind int, l look) {
	switch kind % 3 {
	case 0:
		c.circle(x, y, 3.8*size, l)
	case 1:
		c.path([][]point{{{x, y - 5*size}, {x + 5*size, y}, {x, y + 5*size}, {x - 5*size, y}}}, true, l)
	default:
		c.path([][]point{{{x, y - 5*size}, {x + 4.6*size, y + 3.6*size}, {x - 4.6*size, y + 3.6*size}}}, true, l)
	}
}

// limitLabel writes what a level means above it or below, at the left or the
// right, wherever the curves are farthest.
func (c *canvas) limitLabel(l Lines, p Panel, lim Limit, y float64, area box, fx, fy func(float64) float64) {
	text := cut(lim.Label, area.w()-12, smallSize)
	best, clear := box{}, -1.0
	var at point
	anchor := start
	for _, try := range [...]struct {
		x, y   float64
		anchor string
	}{{area.x0 + 6, y - 6, start}, {area.x1 - 6, y - 6, end}, {area.x0 + 6, y + 15, start}, {area.x1 - 6, y + 15, end}} {
		b := textBox(try.x, try.y, try.anchor, text, smallSize)
		if b.y0 < area.y0-14 || b.y1 > area.y1 {
			continue
		}
		nearest := 60.0
		for _, s := range p.Series {
			for k, v := range s.Y {
				if x := fx(l.X[k]); finite(v) && x >= b.x0-8 && x <= b.x1+8 {
					nearest = math.Min(nearest, math.Max(0, math.Max(b.y0-fy(v), fy(v)-b.y1)))
				}
			}
		}
		for _, pts := range p.Points {
			for _, d := range pts.At {
				if x, y := fx(d.X), fy(d.Y); finite(x+y) && x >= b.x0-8 && x <= b.x1+8 {
					nearest = math.Min(nearest, math.Max(0, math.Max(b.y0-y, y-b.y1)-4))
				}
			}
		}
		for _, m := range l.Markers {
			if x := fx(m.X); x >= b.x0 && x <= b.x1 {
				nearest = math.Min(nearest, 1)
			}
		}
		if nearest > clear {
			best, clear, at, anchor = b, nearest, point{try.x, try.y}, try.anchor
		}
	}
	if best.w() > 0 {
		c.onPaper(at.x, at.y, anchor, text, inkText)
	}
}

// endNames writes the name of each line at its end, apart from each other.
func (l Lines) endNames(c *canvas, p Panel, color []int, area box, fx, fy func(float64) float64) {
	type tail struct {
		i    int
		x, y float64
	}
	var tails []tail
	for i, s := range p.Series {
		for k := len(s.Y) - 1; k >= 0; k-- {
			if finite(s.Y[k]) {
				tails = append(tails, tail{i, fx(l.X[k]), fy(s.Y[k])})
				break
			}
		}
	}
	sort.SliceStable(tails, func(a, b int) bool { return tails[a].y < tails[b].y })
	var wanted []float64
	for _, t := range tails {
		wanted = append(wanted, t.y)
	}
	for k, y := range spread(wanted, 17, area.y0, area.y1) {
		t := tails[k]
		if math.Abs(y-t.y) > 3 || t.x < area.x1-1 {
			c.path([][]point{{{t.x + 3, t.y}, {area.x1 + 4, t.y}, {area.x1 + 11, y}}}, false, softLine)
		}
		c.text(area.x1+14, y+4.5, start, p.Series[t.i].Name, seriesFill(color[t.i]))
	}
}

// markerNames writes the labels of markers above the first panel, in as many
// rows as they need, and returns the height that they took.
func (l Lines) markerNames(c *canvas, fx func(float64) float64, area box) float64 {
	var rows [][]box
	type label struct {
		x      float64
		row    int
		anchor string
		text   string
	}
	var labels []label
	for _, m := range l.Markers {
		if len(l.X) == 0 || !(m.X >= l.X[0] && m.X <= l.X[len(l.X)-1]) || m.Label == "" {
			continue
		}
		x, anchor := fx(m.X), middle
		text := cut(m.Label, c.w-20, smallSize)
		half := textWidth(text, smallSize) / 2
		if x+half > c.w-8 {
			x, anchor = c.w-8, end
		} else if x-half < 8 {
			x, anchor = 8, start
		}
		b := textBox(x, 0, anchor, text, smallSize).grown(6)
		row := 0
		for row < len(rows) && anyOverlap(rows[row], b) {
			row++
		}
		if row == len(rows) {
			rows = append(rows, nil)
		}
		rows[row] = append(rows[row], b)
		labels = append(labels, label{x, row, anchor, text})
	}
	if len(rows) == 0 {
		return 4
	}
	height := 18 * float64(len(rows))
	for _, lb := range labels {
		c.small(lb.x, area.y0+18*float64(lb.row)+11, lb.anchor, lb.text, inkText)
	}
	return height + 2
}

func anyOverlap(boxes []box, b box) bool {
	for _, o := range boxes {
		if o.overlaps(b) {
			return true
		}
	}
	return false
}

// runs returns the stretches [from, to) of X in which ok holds.
func (l Lines) runs(ok func(int) bool) [][2]int {
	var out [][2]int
	for k := 0; k < len(l.X); k++ {
		if !ok(k) {
			continue
		}
		from := k
		for k < len(l.X) && ok(k) {
			k++
		}
		out = append(out, [2]int{from, k})
	}
	return out
}

// span is the range of all that the panel shows.
func (p Panel) span() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	add := func(v float64) {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	for _, s := range p.Series {
		for _, values := range [3][]float64{s.Y, s.Low, s.High} {
			for _, v := range values {
				add(v)
			}
		}
	}
	for _, lim := range p.Limits {
		add(lim.Value)
	}
	for _, pts := range p.Points {
		for _, d := range pts.At {
			add(d.Y)
		}
	}
	if p.Zero && lo <= hi {
		add(0)
	}
	return lo, hi
}

// key explains the marks of a panel, and its lines if they are not named at their
// ends.
func (p Panel) key(color []int, lines bool) []keyItem {
	var items []keyItem
	for i, s := range p.Series {
		if lines {
			items = append(items, keyItem{lineSample(seriesLine(color[i])), s.Name})
		}
	}
	odd := false
	for i, pts := range p.Points {
		if len(pts.At) == 0 {
			continue
		}
		items = append(items, keyItem{func(c *canvas, x, y float64) {
			pts.dot(c, x+sampleWidth/2, y, i, p.colorOf(pts, color), false)
		}, pts.Name})
		for _, d := range pts.At {
			odd = odd || d.Odd
		}
	}
	if odd {
		items = append(items, keyItem{func(c *canvas, x, y float64) { dot(c, x+sampleWidth/2, y, 0, true) }, "does not fit"})
	}
	return items
}

func (l Lines) name() string {
	for _, p := range l.Panels {
		if p.Name != "" {
			return p.Name
		}
	}
	return "Lines"
}

// describe names the lines and where each begins and ends.
func (l Lines) describe() string {
	var s string
	for _, p := range l.Panels {
		for _, r := range p.Series {
			runs := l.runs(func(k int) bool { return finite(r.Y[k]) })
			if len(runs) == 0 {
				continue
			}
			a, b := runs[0][0], runs[len(runs)-1][1]-1
			s += fmt.Sprintf("%s: from %s to %s between %s and %s. ", r.Name, quantity.Number(r.Y[a], 3),
				amount(quantity.Number(r.Y[b], 3), p.Unit), quantity.Number(l.X[a], 4), quantity.Number(l.X[b], 4))
		}
	}
	for _, m := range l.Markers {
		if m.Label != "" {
			s += m.Label + ". "
		}
	}
	return s + "The table gives the numbers."
}

func (l Lines) table(title string) Table {
	t := Table{Caption: title, Head: []string{or(l.XName, "x")}}
	for _, p := range l.Panels {
		for _, s := range p.Series {
			t.Head = append(t.Head, join(s.Name, p.Unit))
			if s.Low != nil {
				t.Head = append(t.Head, s.Name+", low", s.Name+", high")
			}
		}
		for _, pts := range p.Points {
			t.Head = append(t.Head, join(pts.Name, p.Unit))
		}
	}
	for k, x := range l.X {
		row := []string{quantity.Number(x, 4)}
		if l.Classes != nil {
			row[0] = l.class(x)
		}
		empty := true // no curve, and no point near
		for _, p := range l.Panels {
			for _, s := range p.Series {
				empty = false
				row = append(row, quantity.Number(s.Y[k], 3))
				if s.Low != nil {
					row = append(row, quantity.Number(s.Low[k], 3), quantity.Number(s.High[k], 3))
				}
			}
			for _, pts := range p.Points {
				text := l.pointsAt(pts, k)
				row, empty = append(row, text), empty && text == ""
			}
		}
		if !empty {
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}

// pointsAt lists the points that lie nearest to the k-th X, for the table.
func (l Lines) pointsAt(pts Points, k int) string {
	var out []string
	for _, d := range pts.At {
		if !finite(d.X) || !finite(d.Y) || l.nearest(d.X) != k {
			continue
		}
		text := quantity.Number(d.Y, 3)
		if d.Label != "" {
			text = d.Label + ": " + text
		}
		if d.Odd {
			text += " (does not fit)"
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

// nearest is the index of the X next to a value.
func (l Lines) nearest(x float64) int {
	best := 0
	for k := range l.X {
		if math.Abs(l.X[k]-x) < math.Abs(l.X[best]-x) {
			best = k
		}
	}
	return best
}
