package terminal

import (
	"cmp"
	"math"
	"strconv"
	"strings"

	"underlamp/draw"
	"underlamp/science/quantity"
)

// A Map is the bench from above: values as colours or letters, lines at target and
// ceiling, plants, a key with the limits of the bands, and a bar of scale.
type Map struct {
	Style   Style
	Columns int // at most; below 30 is taken as 30
	Rows    int // of the picture itself, at most; 0: 24

	Width, Depth quantity.Metre  // of the bench, above 0
	Units        quantity.System // of the bar of scale

	Values         draw.Grid // X and Y in m from the left and the front
	Quantity, Unit string    // what they are: "PPFD", "µmol/m²/s"
	Scale          draw.Scale

	Target, Ceiling float64 // in Unit; 0: none
	TargetName      string  // in the key; empty: "target"
	Plants          []Mark
}

// A Mark is a plant.
type Mark struct {
	X, Y quantity.Metre
	Name string
}

// Letters of rising weight, where there are no colours.
const (
	shades    = " .:-=+*%#@"
	mapBands  = 10 // as many as there are shades
	leastWide = 30
)

// Text draws the map.
func (m Map) Text() string {
	if !(m.Width > 0) || !(m.Depth > 0) {
		panic("terminal: Map: the bench has no area")
	}
	if len(m.Values.Values) != len(m.Values.X)*len(m.Values.Y) {
		panic("terminal: Map: one value for each crossing of the grid is needed")
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range m.Values.Values {
		if finite(v) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	limits, decimals := draw.Bands(lo, hi, mapBands)
	wide, rows := m.size()
	c := canvas{m: m, wide: wide, rows: rows, limits: limits}
	c.fill()
	c.lines()
	c.plants()

	var b strings.Builder
	margin := "  "
	c.frame(&b, margin, "back")
	for r := range rows {
		b.WriteString(margin + c.edge("│"))
		m.Style.write(&b, c.cells[r*wide:(r+1)*wide])
		b.WriteString(c.edge("│") + "\n")
	}
	c.frame(&b, margin, "front")
	c.key(&b, margin, decimals)
	return b.String()
}

// size is the area of the picture in columns and rows. A cell of a terminal is about
// twice as high as wide.
func (m Map) size() (wide, rows int) {
	wide = max(m.Columns, leastWide) - 6 // margins and frame
	most := m.Rows
	if most <= 0 {
		most = 24
	}
	aspect := float64(m.Depth / m.Width)
	rows = int(math.Round(float64(wide) * aspect / 2))
	if rows > most {
		rows = most
		wide = min(wide, max(12, int(math.Round(2*float64(rows)/aspect))))
	}
	return wide, max(rows, 2)
}

// A canvas is the picture while it is drawn, row 0 at the back.
type canvas struct {
	m          Map
	wide, rows int
	limits     []float64
	cells      []cell
}

// place is where the middle of a part of a cell lies on the bench; part goes from 0, its
// upper edge, to 1.
func (c *canvas) place(col, row int, part float64) (x, y float64) {
	x = (float64(col) + 0.5) / float64(c.wide) * float64(c.m.Width)
	y = (1 - (float64(row)+part)/float64(c.rows)) * float64(c.m.Depth)
	return x, y
}

// value is the value at a place, between the points of the grid by straight lines, and
// that of the edge beyond it.
func (c *canvas) value(x, y float64) float64 {
	g := c.m.Values
	i, u := between(g.X, x)
	j, v := between(g.Y, y)
	if i < 0 || j < 0 {
		return math.NaN()
	}
	at := func(i, j int) float64 { return g.Values[min(j, len(g.Y)-1)*len(g.X)+min(i, len(g.X)-1)] }
	low := at(i, j) + u*(at(i+1, j)-at(i, j))
	high := at(i, j+1) + u*(at(i+1, j+1)-at(i, j+1))
	return low + v*(high-low)
}

// between finds the step of an axis that x lies in, and how far in it; -1 if there is no
// axis.
func between(axis []float64, x float64) (i int, part float64) {
	n := len(axis)
	switch {
	case n == 0:
		return -1, 0
	case x <= axis[0]:
		return 0, 0
	case x >= axis[n-1]:
		return n - 1, 0
	}
	for i+2 < n && x >= axis[i+1] {
		i++
	}
	return i, (x - axis[i]) / (axis[i+1] - axis[i])
}

// band is the band of a value, -1 where it is missing.
func (c *canvas) band(v float64) int {
	if !finite(v) || len(c.limits) < 2 {
		return -1
	}
	i := 0
	for i < len(c.limits)-2 && v >= c.limits[i+1] {
		i++
	}
	return i
}

// colour is that of a band, as on the pages.
func (c *canvas) colour(band int) *rgb {
	if band < 0 {
		return nil
	}
	u := 0.5
	if n := len(c.limits) - 1; n > 1 {
		u = float64(band) / float64(n-1)
	}
	k := parse(c.m.Scale.At(u))
	return &k
}

// shade is the letter of a band.
func (c *canvas) shade(band int) string {
	if band < 0 {
		return "?"
	}
	n := max(len(c.limits)-2, 1)
	if len(c.limits) == 2 {
		band = n
	}
	return string(shades[band*(len(shades)-1)/n])
}

// coloured says whether the scale is shown by colours.
func (c *canvas) coloured() bool { return c.m.Style.Colours >= Colours256 && !c.m.Style.ASCII }

func (c *canvas) fill() {
	c.cells = make([]cell, c.wide*c.rows)
	for r := range c.rows {
		for k := range c.wide {
			if !c.coloured() {
				x, y := c.place(k, r, 0.5)
				c.cells[r*c.wide+k] = cell{letter: c.shade(c.band(c.value(x, y)))}
				continue
			}
			x, y := c.place(k, r, 0.25)
			upper := c.colour(c.band(c.value(x, y)))
			x, y = c.place(k, r, 0.75)
			lower := c.colour(c.band(c.value(x, y)))
			// The upper half is ink, the lower half ground.
			c.cells[r*c.wide+k] = cell{letter: "▀", ink: upper, ground: lower}
			if upper == nil || lower == nil {
				c.cells[r*c.wide+k] = cell{letter: "?"}
			}
		}
	}
}

// put sets a letter over what is there, on the colour that is there.
func (c *canvas) put(col, row int, letter string) {
	if col < 0 || row < 0 || col >= c.wide || row >= c.rows {
		return
	}
	at := &c.cells[row*c.wide+col]
	if at.occupied {
		return
	}
	at.letter = letter
	if !at.marked && at.ink != nil && at.ground != nil {
		ground := mix(*at.ink, *at.ground)
		ink := ground.ink()
		at.ground, at.ink = &ground, &ink
	}
	at.marked = true
}

// The letters of lines at target and ceiling: level, rising, upright, falling.
func (c *canvas) strokes(ceiling bool) [4]string {
	switch {
	case !c.coloured() && ceiling:
		return [4]string{"X", "X", "X", "X"}
	case !c.coloured():
		return [4]string{"O", "O", "O", "O"}
	case ceiling:
		return [4]string{"×", "×", "×", "×"}
	}
	return [4]string{"─", "╱", "│", "╲"}
}

// lines sets letters where the value passes target and ceiling: in a cell whose middle
// lies nearer to the level than the value changes over half a cell.
func (c *canvas) lines() {
	for _, l := range []struct {
		level   float64
		ceiling bool
	}{{c.m.Target, false}, {c.m.Ceiling, true}} {
		if !(l.level > 0) {
			continue
		}
		strokes := c.strokes(l.ceiling)
		for r := range c.rows {
			for k := range c.wide {
				x, y := c.place(k, r, 0.5)
				dx, dy := float64(c.m.Width)/float64(c.wide)/2, float64(c.m.Depth)/float64(c.rows)/2
				v := c.value(x, y)
				gx := c.value(x+dx, y) - c.value(x-dx, y) // over a cell, to the right
				gy := c.value(x, y+dy) - c.value(x, y-dy) // over a cell, to the back
				if math.IsNaN(v+gx+gy) || math.Abs(v-l.level) > math.Hypot(gx, gy)/2 || gx == 0 && gy == 0 {
					continue
				}
				// The line runs across the gradient; a cell is twice as high as wide.
				angle := math.Atan2(gx/(2*dx), -gy/(2*dy)) * 180 / math.Pi
				turn := int(math.Round(math.Mod(angle+360, 180)/45)) % 4
				c.put(k, r, strokes[turn])
			}
		}
	}
}

// plants sets a mark at each plant, with its name beside it where there is room.
func (c *canvas) plants() {
	col := func(p Mark) int { return int(float64(p.X/c.m.Width) * float64(c.wide)) }
	row := func(p Mark) int { return int((1 - float64(p.Y/c.m.Depth)) * float64(c.rows)) }
	taken := map[[2]int]bool{}
	for _, p := range c.m.Plants {
		taken[[2]int{min(col(p), c.wide-1), min(row(p), c.rows-1)}] = true
	}
	for _, p := range c.m.Plants {
		if col(p) < 0 || row(p) < 0 || p.X > c.m.Width || p.Y < 0 {
			continue // it stands beside the bench
		}
		x, y := min(col(p), c.wide-1), min(row(p), c.rows-1)
		c.put(x, y, c.plantMark())
		n := Cells(p.Name)
		if n == 0 || n > 8 || x+n+1 >= c.wide {
			continue
		}
		free := true
		for i := 1; i <= n+1; i++ {
			free = free && !taken[[2]int{x + i, y}]
		}
		if !free {
			continue
		}
		at := x + 1
		for _, r := range p.Name {
			w := cellsOf(r)
			if w == 0 {
				c.cells[y*c.wide+at-1].letter += string(r)
				continue
			}
			c.put(at, y, string(r))
			taken[[2]int{at, y}] = true
			if w == 2 {
				c.put(at+1, y, "")
				c.cells[y*c.wide+at+1].occupied = true
				taken[[2]int{at + 1, y}] = true
			}
			at += w
		}
	}
}

func (c *canvas) plantMark() string {
	if c.m.Style.ASCII {
		return "o"
	}
	return "●"
}

// edge is a letter of the frame.
func (c *canvas) edge(letter string) string {
	if !c.m.Style.ASCII {
		return letter
	}
	switch letter {
	case "─":
		return "-"
	case "│":
		return "|"
	}
	return "+"
}

// frame is the upper or lower edge, with the name of that side of the bench.
func (c *canvas) frame(b *strings.Builder, margin, side string) {
	left, right := "┌", "┐"
	if side == "front" {
		left, right = "└", "┘"
	}
	before := (c.wide - len(side) - 2) / 2
	b.WriteString(margin + c.edge(left) + strings.Repeat(c.edge("─"), max(before, 0)) + " " + side + " " +
		strings.Repeat(c.edge("─"), max(c.wide-before-len(side)-2, 0)) + c.edge(right) + "\n")
}

// key is what stands below: the bar of scale, the bands, the lines.
func (c *canvas) key(b *strings.Builder, margin string, decimals int) {
	length := scaleLength(float64(c.m.Width), c.m.Units)
	n := max(int(math.Round(length/float64(c.m.Width)*float64(c.wide))), 2)
	line := c.edge("├") + strings.Repeat(c.edge("─"), n-2) + c.edge("┤") + " " + quantity.Length.Format(length, c.m.Units, 3)
	parts := []string{}
	if len(c.m.Plants) > 0 {
		parts = append(parts, c.plantMark()+" plant")
	}
	number := func(v float64) string { return quantity.Fixed(v, decimals) }
	for _, l := range []struct {
		level   float64
		ceiling bool
		name    string
	}{{c.m.Target, false, cmp.Or(c.m.TargetName, "target")}, {c.m.Ceiling, true, "ceiling"}} {
		if l.level > 0 {
			parts = append(parts, c.strokes(l.ceiling)[0]+" "+l.name+" "+quantity.Number(l.level, 3))
		}
	}
	wrapped(b, margin, append([]string{line}, parts...), c.m.Columns)

	parts = []string{c.m.Quantity + " in " + c.m.Unit + ":"}
	for i := range max(len(c.limits)-1, 0) {
		var sample strings.Builder
		if c.coloured() {
			k := c.colour(i)
			c.m.Style.write(&sample, []cell{{letter: "█", ink: k}, {letter: "█", ink: k}})
		} else {
			sample.WriteString("[" + c.shade(i) + "]")
		}
		parts = append(parts, sample.String()+" "+number(c.limits[i])+"–"+number(c.limits[i+1]))
	}
	if len(parts) == 1 {
		parts = append(parts, "no value is known")
	}
	wrapped(b, margin, parts, c.m.Columns)
}

// wrapped writes parts with two blanks between them, in lines of so many columns.
func wrapped(b *strings.Builder, margin string, parts []string, columns int) {
	columns = max(columns, leastWide)
	line, n := margin, len(margin)
	for i, p := range parts {
		w := visible(p)
		if i > 0 && n+2+w > columns {
			b.WriteString(line + "\n")
			line, n = margin, len(margin)
		} else if i > 0 {
			line, n = line+"  ", n+2
		}
		line, n = line+p, n+w
	}
	b.WriteString(line + "\n")
}

// visible is the columns of a text with codes of colour in it.
func visible(s string) int {
	n := 0
	for {
		before, rest, found := strings.Cut(s, "\x1b[")
		n += Cells(before)
		if !found {
			return n
		}
		_, s, _ = strings.Cut(rest, "m")
	}
}

// scaleLength is a round length for the bar: the greatest of 1, 2, 5 times a power of
// ten, in the unit that is printed, within a third of the width.
func scaleLength(width float64, units quantity.System) float64 {
	_, per := quantity.Length.Shown(units)
	most := width * per / 3
	p := math.Pow(10, math.Floor(math.Log10(most)))
	for _, k := range []float64{5, 2, 1} {
		if k*p <= most*(1+1e-9) {
			v, _ := strconv.ParseFloat(strconv.FormatFloat(k*p, 'g', 12, 64), 64)
			return v / per
		}
	}
	return p / per
}
