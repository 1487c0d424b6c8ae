package draw

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/quantity"
)

// Polar is the curve of light of a lamp: intensity by angle from straight down,
// in planes through its axis. A lamp that sends nothing up gets the lower half
// only.
type Polar struct {
	Frame  Frame
	Name   string // "Intensity"
	Unit   string // "cd"
	Angles []float64
	Curves []PolarCurve // at most five tell apart
}

// A PolarCurve is one plane: its half to the right of the axis and its half to
// the left. Values stand at the angles of the picture, in ° from straight down
// (0) to straight up (180), ascending.
type PolarCurve struct {
	Name        string // "C0 and C180"
	RightName   string // "C0"
	LeftName    string // "C180"; empty if both halves are alike by nature
	Right, Left []float64
}

// upShare is the share of the peak below which light above the horizontal is
// not worth the upper half of the picture.
const upShare = 0.005

// Draw makes the picture. It panics if the angles do not ascend from 0 to 180 or
// a curve has not as many values as angles.
func (p Polar) Draw() Picture {
	p.Frame.check("Polar")
	for i, a := range p.Angles {
		if !(a >= 0 && a <= 180) || i > 0 && a <= p.Angles[i-1] {
			panic("draw: Polar: Angles must ascend from 0 to 180")
		}
	}
	for _, k := range p.Curves {
		if len(k.Right) != len(p.Angles) || len(k.Left) != len(p.Angles) {
			panic("draw: Polar: curve " + k.Name + " has not as many values as Angles")
		}
	}
	c := newCanvas(p.Frame)
	title := or(p.Frame.Title, or(p.Name, "Light by angle"))
	desc := or(p.Frame.Desc, p.describe())

	y := 12.0
	c.text(14, y+fontSize, start, cut(join(or(p.Name, "Light"), p.Unit)+", by angle from straight down", c.w-28, fontSize), boldText)
	y += 26
	var items []keyItem
	for i, k := range p.Curves {
		items = append(items, keyItem{lineSample(seriesLine(i)), k.label()})
	}
	y = c.key(14, y, c.w-28, items) + 8

	peak, up := p.extent()
	limits, decimals := bands(0, peak, 5)
	if len(limits) < 2 || peak <= 0 {
		c.line(14, y+40, c.w-14, y+40, softLine)
		c.text(c.w/2, y+30, middle, "no values", softText)
		return Picture{SVG: c.svg(y+60, title, desc), Table: p.table(title), Title: title, Desc: desc}
	}
	side := 44.0 // room for the labels of angles
	radius := math.Min((c.w-2*side)/2, 290)
	cx := c.w / 2
	cy := y + 24
	height := cy + radius + 30
	if up {
		radius = math.Min(radius, 230)
		cy = y + radius + 24
		height = cy + radius + 30
	}
	scale := radius / limits[len(limits)-1]
	at := func(v, angle float64, sign float64) point {
		sin, cos := math.Sincos(angle * math.Pi / 180)
		return point{cx + sign*v*scale*sin, cy + v*scale*cos}
	}
	c.rings(cx, cy, limits, scale, up)
	c.spokes(cx, cy, radius, up, p.Frame.narrow())
	for i, k := range p.Curves {
		c.path(p.project(k, at), false, seriesLine(i))
	}
	// The numbers of the rings last, so that no curve hides them.
	// From the outermost in, as many as there is room for.
	room := placer{within: box{0, 0, c.w, height}}
	for i := len(limits) - 1; i > 0; i-- {
		x, text := cx+limits[i]*scale, quantity.Fixed(limits[i], decimals)
		if room.try(textBox(x, cy-6, middle, text, smallSize).grown(2)) {
			c.onPaper(x, cy-6, middle, text, softText)
		}
	}
	return Picture{SVG: c.svg(height, title, desc), Table: p.table(title), Title: title, Desc: desc}
}

// rings draws the circles of equal intensity.
func (c *canvas) rings(cx, cy float64, limits []float64, scale float64, up bool) {
	for _, v := range limits[1:] {
		r := v * scale
		if up {
			c.circle(cx, cy, r, ruleLine)
			continue
		}
		c.raw(`<path d="M`)
		c.pair(cx-r, cy)
		c.raw("A")
		c.pair(r, r)
		c.raw(" 0 0 0 ")
		c.pair(cx+r, cy)
		c.raw(`"`)
		c.attrs(ruleLine)
		c.raw("/>")
	}
}

// spokes draws a line every 15° with a label every 30°.
func (c *canvas) spokes(cx, cy, radius float64, up, narrow bool) {
	most := 90.0
	if up {
		most = 180
	}
	for a := 0.0; a <= most; a += 15 {
		sin, cos := math.Sincos(a * math.Pi / 180)
		style := ruleLine
		if a == 0 || a == 90 || a == 180 {
			style = softLine
		}
		inner := 0.0
		if math.Mod(a, 30) != 0 {
			inner = radius / 5 // spokes between do not crowd the middle
		}
		for _, sign := range []float64{1, -1} {
			if sign < 0 && (a == 0 || a == 180) {
				continue
			}
			c.line(cx+sign*inner*sin, cy+inner*cos, cx+sign*radius*sin, cy+radius*cos, style)
			if math.Mod(a, 30) != 0 && narrow || a != 45 && a != 135 && math.Mod(a, 30) != 0 {
				continue
			}
			anchor := middle
			switch {
			case a == 0 || a == 180:
			case sign > 0:
				anchor = start
			default:
				anchor = end
			}
			x, y := cx+sign*(radius+6)*sin, cy+(radius+6)*cos+4+7*cos
			c.small(x, y, anchor, quantity.Fixed(a, 0)+"°", softText)
		}
	}
}

// project turns a curve into lines of the picture, from the left half through
// the axis to the right one.
func (p Polar) project(k PolarCurve, at func(v, angle, sign float64) point) [][]point {
	var lines [][]point
	var line []point
	flush := func() {
		if len(line) > 1 {
			lines = append(lines, simplify(line, 0.1))
		}
		line = nil
	}
	add := func(v, angle, sign float64) {
		if !finite(v) || v < 0 {
			flush()
			return
		}
		line = append(line, at(v, angle, sign))
	}
	for i := len(p.Angles) - 1; i >= 0; i-- {
		add(k.Left[i], p.Angles[i], -1)
	}
	if len(p.Angles) > 0 && p.Angles[0] > 0 {
		flush()
	}
	for i, a := range p.Angles {
		add(k.Right[i], a, 1)
	}
	flush()
	return lines
}

// extent is the highest value, and whether the upper half is needed.
func (p Polar) extent() (peak float64, up bool) {
	above := 0.0
	for _, k := range p.Curves {
		for i, a := range p.Angles {
			for _, v := range [2]float64{k.Right[i], k.Left[i]} {
				if finite(v) && v <= math.MaxFloat64/1e9 {
					peak = math.Max(peak, v)
					if a > 90 {
						above = math.Max(above, v)
					}
				}
			}
		}
	}
	return peak, above > upShare*peak
}

func (k PolarCurve) label() string {
	if k.RightName == "" || k.LeftName == "" {
		return k.Name
	}
	return k.RightName + " to the right, " + k.LeftName + " to the left"
}

// describe names the highest value of each curve and where it stands.
func (p Polar) describe() string {
	var b strings.Builder
	for _, k := range p.Curves {
		peak, at, side := math.Inf(-1), 0.0, k.RightName
		for i, a := range p.Angles {
			if finite(k.Right[i]) && k.Right[i] > peak {
				peak, at, side = k.Right[i], a, k.RightName
			}
			if finite(k.Left[i]) && k.Left[i] > peak {
				peak, at, side = k.Left[i], a, k.LeftName
			}
		}
		if !finite(peak) {
			continue
		}
		where := fmt.Sprintf("%s° from straight down", quantity.Number(at, 3))
		if at == 0 {
			where = "straight down"
		} else if side != "" {
			where += " toward " + side
		}
		fmt.Fprintf(&b, "%s: at most %s, %s. ", k.Name, amount(quantity.Number(peak, 3), p.Unit), where)
	}
	return b.String() + "The table gives the numbers."
}

// mostRows is the length from which the table keeps to multiples of 5°.
const mostRows = 40

func (p Polar) table(title string) Table {
	t := Table{Caption: title, Head: []string{"angle from straight down"}}
	for _, k := range p.Curves {
		if k.LeftName == "" {
			t.Head = append(t.Head, join(k.Name, p.Unit))
			continue
		}
		t.Head = append(t.Head, join(k.RightName, p.Unit), join(k.LeftName, p.Unit))
	}
	for i, a := range p.Angles {
		if len(p.Angles) > mostRows && math.Mod(a, 5) != 0 {
			continue
		}
		row := []string{quantity.Number(a, 4) + "°"}
		for _, k := range p.Curves {
			row = append(row, quantity.Number(k.Right[i], 3))
			if k.LeftName != "" {
				row = append(row, quantity.Number(k.Left[i], 3))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
