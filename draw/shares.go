package draw

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/quantity"
)

// Shares show counts by class: one thick bar for each group, whose length is all of it,
// and below it a thin one for each of its rows, with a cell for each plant.
type Shares struct {
	Frame   Frame
	Name    string   // "Plants by grade of burn"
	Class   string   // what a class is: "grade"
	Classes []string // from none to worst
	Groups  []ShareGroup
}

// A ShareGroup is a group with its rows.
type ShareGroup struct {
	ShareRow
	Rows []ShareRow
}

// A ShareRow counts by class; counts below 0 are taken as 0.
type ShareRow struct {
	Name   string
	Counts []int // one for each class
}

func (r ShareRow) total() int {
	n := 0
	for _, k := range r.Counts {
		n += max(k, 0)
	}
	return n
}

// Draw makes the picture. It panics if a row has not as many counts as there are classes.
func (s Shares) Draw() Picture {
	s.Frame.check("Shares")
	for _, g := range s.Groups {
		for _, r := range append([]ShareRow{g.ShareRow}, g.Rows...) {
			if len(r.Counts) != len(s.Classes) {
				panic("draw: Shares: row " + r.Name + " has not as many counts as classes")
			}
		}
	}
	c := newCanvas(s.Frame)
	edge := 14.0
	nameWidth := 40.0
	for _, g := range s.Groups {
		nameWidth = math.Max(nameWidth, textWidth(g.Name, fontSize)*boldWider)
		for _, r := range g.Rows {
			nameWidth = math.Max(nameWidth, textWidth(r.Name, smallSize))
		}
	}
	nameWidth = math.Min(nameWidth, 0.26*c.w)
	x0, x1 := edge+nameWidth+10, c.w-edge-42
	y := 12.0
	c.text(edge, y+fontSize, start, cut(or(s.Name, "Shares"), (c.w-2*edge)/boldWider, fontSize), boldText)
	y += 26
	var items []keyItem
	for k, name := range s.Classes {
		items = append(items, keyItem{func(c *canvas, x, y float64) {
			c.rect(box{x + 5, y - 7, x + sampleWidth - 5, y + 7}, 0, s.cell(k))
		}, or(s.Class, "class") + " " + name})
	}
	y = c.key(edge, y, c.w-2*edge, items) + 8
	for _, g := range s.Groups {
		const thick = 22.0
		c.text(x0-10, y+thick/2+4.5, end, cut(g.Name, nameWidth, fontSize*boldWider), boldText)
		s.bar(c, g.ShareRow, box{x0, y, x1, y + thick}, true)
		y += thick + 5
		for _, r := range g.Rows {
			const thin = 13.0
			c.small(x0-10, y+thin/2+4, end, cut(r.Name, nameWidth, smallSize), softText)
			s.bar(c, r, box{x0, y, x1, y + thin}, false)
			c.small(x1+6, y+thin/2+4, start, fmt.Sprint(r.total()), softText)
			y += thin + 3
		}
		y += 12
	}
	if len(s.Groups) == 0 {
		c.text(c.w/2, y+20, middle, "no values", softText)
		y += 36
	}
	title := or(s.Frame.Title, or(s.Name, "Shares"))
	desc := or(s.Frame.Desc, s.describe())
	return Picture{SVG: c.svg(y+4, title, desc), Table: s.table(title), Title: title, Desc: desc}
}

func (s Shares) colour(k int) rgb {
	if len(s.Classes) < 2 {
		return ScaleBurn.at(0)
	}
	return ScaleBurn.at(float64(k) / float64(len(s.Classes)-1))
}

// cell is the look of a class; its rim tells neighbours apart on any ground.
func (s Shares) cell(k int) look {
	return look(`class="d-soft-line" fill="` + s.colour(k).hex() + `" stroke="#535e6b" stroke-width="0.6"`)
}

// bar draws one row: whole classes with their share, or a cell for each plant.
func (s Shares) bar(c *canvas, r ShareRow, b box, whole bool) {
	n := r.total()
	if n == 0 {
		c.line(b.x0, (b.y0+b.y1)/2, b.x1, (b.y0+b.y1)/2, softDash)
		return
	}
	each := b.w() / float64(n)
	at := b.x0
	for k, count := range r.Counts {
		if count <= 0 {
			continue
		}
		w := each * float64(count)
		c.rect(box{at, b.y0, at + w, b.y1}, 0, s.cell(k))
		switch {
		case whole:
			text := quantity.Fixed(100*float64(count)/float64(n), 0) + " %"
			if textWidth(text, smallSize)+6 > w {
				text = s.Classes[k]
			}
			if textWidth(text, smallSize)+4 <= w {
				c.small(at+w/2, (b.y0+b.y1)/2+4.2, middle, text, look(`fill="`+inkOn(s.colour(k)).hex()+`"`))
			}
		case each >= 2.5:
			var rims [][]point
			for i := 1; i < count; i++ {
				x := at + each*float64(i)
				rims = append(rims, []point{{x, b.y0}, {x, b.y1}})
			}
			c.path(rims, false, softLine)
		}
		at += w
	}
}

func (s Shares) describe() string {
	var d strings.Builder
	for _, g := range s.Groups {
		n := g.total()
		fmt.Fprintf(&d, "%s: ", g.Name)
		var parts []string
		for k, count := range g.Counts {
			if count > 0 {
				parts = append(parts, fmt.Sprintf("%d of %d with %s %s", count, n, or(s.Class, "class"), s.Classes[k]))
			}
		}
		d.WriteString(strings.Join(parts, ", ") + ". ")
	}
	return d.String() + "The table gives the numbers."
}

func (s Shares) table(title string) Table {
	t := Table{Caption: title, Head: []string{"what"}}
	for _, name := range s.Classes {
		t.Head = append(t.Head, or(s.Class, "class")+" "+name)
	}
	t.Head = append(t.Head, "plants")
	add := func(name string, r ShareRow) {
		row := []string{name}
		for _, k := range r.Counts {
			row = append(row, fmt.Sprint(max(k, 0)))
		}
		t.Rows = append(t.Rows, append(row, fmt.Sprint(r.total())))
	}
	for _, g := range s.Groups {
		add(g.Name+", all", g.ShareRow)
		for _, r := range g.Rows {
			add(r.Name, r)
		}
	}
	return t
}
