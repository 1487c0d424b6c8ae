package draw

import (
	"fmt"
	"math"

	"underlamp/science/quantity"
)

// Bars compare what-ifs: one bar to the left or right of zero for each, with a
// whisker for its interval and the number beside it.
type Bars struct {
	Frame    Frame
	Name     string // "Change in chance of burn"
	Unit     string // "points"
	Decimals int    // of the printed numbers
	Amounts  bool   // the values are amounts, not changes: they print without a plus sign
	Items    []Bar
}

// A Bar is one change.
type Bar struct {
	Name      string  // "fan on at night"
	Value     float64 // its effect; NaN prints as not known
	Low, High float64 // its interval; NaN if there is none
}

// Draw makes the picture. It panics if Decimals is below 0.
func (b Bars) Draw() Picture {
	b.Frame.check("Bars")
	if b.Decimals < 0 {
		panic("draw: Bars: Decimals is below 0")
	}
	c := newCanvas(b.Frame)
	lo, hi := 0.0, 0.0
	valueWidth, nameWidth := 0.0, 0.0
	for _, it := range b.Items {
		for _, v := range [3]float64{it.Value, it.Low, it.High} {
			if finite(v) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
		valueWidth = math.Max(valueWidth, textWidth(b.print(it), smallSize))
		nameWidth = math.Max(nameWidth, textWidth(it.Name, fontSize))
	}
	limits, decimals := bands(lo, hi, 6)
	// Wide: name, bar and value in three columns. Narrow: name and value above.
	edge := 20.0
	stacked := b.Frame.narrow()
	x0, x1 := edge+10, c.w-edge-10
	nameWidth = math.Min(nameWidth, 0.32*c.w)
	if stacked {
		edge = 12
	} else {
		x0, x1 = edge+nameWidth+24, c.w-edge-valueWidth-24
		if x1-x0 < 140 {
			stacked, x0, x1 = true, edge+10, c.w-edge-10
		}
	}
	if len(limits) == 0 {
		limits = []float64{0, 1}
	}
	fx := linear(limits[0], limits[len(limits)-1], x0, x1)

	const barHeight = 14.0
	y := 12.0
	c.text(edge, y+fontSize, start, cut(join(b.Name, b.Unit), c.w-2*edge, fontSize), boldText)
	y += 32
	top := y
	rows := make([]float64, len(b.Items)) // middle of each bar
	for i, it := range b.Items {
		if stacked {
			w := c.w - 2*edge
			if textWidth(it.Name, fontSize)+textWidth(b.print(it), smallSize)+16 > w {
				y += 19 * float64(len(wrap(it.Name, w, fontSize)))
			}
			rows[i] = y + 32
			y += 50
			continue
		}
		n := float64(max(1, len(wrap(it.Name, nameWidth+1, fontSize))))
		height := math.Max(34, 18*n+14)
		rows[i] = y + height/2
		y += height
	}
	for _, v := range limits {
		style := ruleLine
		if v == 0 {
			style = inkLine
		}
		if stacked && v != 0 {
			// Rules would run through the words above the bars.
			for _, row := range rows {
				c.line(fx(v), row-barHeight/2-3, fx(v), row+barHeight/2+3, style)
			}
		} else if stacked {
			for _, row := range rows {
				c.line(fx(v), row-barHeight/2-4, fx(v), row+barHeight/2+4, style)
			}
		} else {
			c.line(fx(v), top, fx(v), y, style)
		}
	}
	for i, it := range b.Items {
		b.bar(c, it, rows[i], barHeight, fx)
		value := b.print(it)
		if stacked {
			ty := rows[i] - 15
			if textWidth(it.Name, fontSize)+textWidth(value, smallSize)+16 > c.w-2*edge {
				n := float64(len(wrap(it.Name, c.w-2*edge, fontSize)))
				c.wrapped(edge, ty-19*n, c.w-2*edge, it.Name, fontSize, inkText)
			} else {
				c.text(edge, ty, start, it.Name, inkText)
			}
			c.small(c.w-edge, ty, end, value, softText)
			continue
		}
		lines := wrap(it.Name, nameWidth+1, fontSize)
		ty := rows[i] + 4.5 - 9*float64(len(lines)-1)
		c.wrapped(edge, ty, nameWidth+1, it.Name, fontSize, inkText)
		c.small(c.w-edge, rows[i]+4.2, end, value, inkText)
	}
	n := len(limits) - 1
	for i, v := range limits {
		if i == 0 || i == n || v == 0 || (x1-x0)/float64(n) > 44 {
			c.small(fx(v), y+16, middle, b.number(v, decimals), softText)
		}
	}
	title := or(b.Frame.Title, or(b.Name, "What if"))
	desc := or(b.Frame.Desc, b.describe())
	return Picture{SVG: c.svg(y+28, title, desc), Table: b.table(title), Title: title, Desc: desc}
}

// bar draws one bar and its whisker, dark upon a pale rim so that it shows on
// the bar and beside it.
func (b Bars) bar(c *canvas, it Bar, y, height float64, fx func(float64) float64) {
	if finite(it.Value) {
		x0, x1 := fx(math.Min(0, it.Value)), fx(math.Max(0, it.Value))
		c.rect(box{x0, y - height/2, x1, y + height/2}, 0, seriesFill(0)+` fill-opacity="0.55"`)
		c.line(fx(it.Value), y-height/2, fx(it.Value), y+height/2, seriesLine(0))
	}
	if finite(it.Low) && finite(it.High) {
		l, h := fx(it.Low), fx(it.High)
		c.path([][]point{{{l, y - 4}, {l, y + 4}}, {{l, y}, {h, y}}, {{h, y - 4}, {h, y + 4}}}, false,
			`class="d-ink-line" fill="none" stroke="#1b2430" stroke-width="1.4"`)
	}
}

// number prints one value, a change with its sign.
func (b Bars) number(v float64, decimals int) string {
	if b.Amounts {
		return quantity.Fixed(v, decimals)
	}
	return signed(v, decimals)
}

// print is the value with sign, unit and interval: "−18 points (−25 to −9)".
func (b Bars) print(it Bar) string {
	if !finite(it.Value) {
		return missing
	}
	s := amount(b.number(it.Value, b.Decimals), b.Unit)
	if finite(it.Low) && finite(it.High) {
		s += " (" + b.number(it.Low, b.Decimals) + " to " + b.number(it.High, b.Decimals) + ")"
	}
	return s
}

func (b Bars) describe() string {
	var d string
	for _, it := range b.Items {
		d += fmt.Sprintf("%s: %s. ", it.Name, b.print(it))
	}
	return d + "The table gives the numbers."
}

func (b Bars) table(title string) Table {
	first := "Change"
	if b.Amounts {
		first = "What"
	}
	t := Table{Caption: title, Head: []string{first, join(or(b.Name, "Effect"), b.Unit), "Low", "High"}}
	for _, it := range b.Items {
		row := []string{it.Name}
		for _, v := range [3]float64{it.Value, it.Low, it.High} {
			if finite(v) {
				row = append(row, b.number(v, b.Decimals))
			} else {
				row = append(row, missing)
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
