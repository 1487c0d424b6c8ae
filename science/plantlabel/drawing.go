package plantlabel

import (
	"errors"
	"math"
)

// A Polygon is an area of one ink. Later ones lie over earlier ones.
type Polygon struct {
	Points []Point
	Ink    Ink
}

// A Words is a line of text in a room: as large as Size, smaller if it would not fit,
// centred from top to bottom, and begun at the left.
type Words struct {
	Room Rect
	Size float64 // height of the type at most, mm (72/25.4 points each)
	Bold bool
	Text string
	Ink  Ink
}

// A Drawing is all that is printed on one label.
type Drawing struct {
	Width, Height float64 // mm
	Polygons      []Polygon
	Words         []Words
}

// A Content is what one label says.
type Content struct {
	Code  Code
	Title string // what the eyes find the plant by; empty: the code
	Note  string // a second line; empty: the code, if there is a title
}

// Draw is the label as areas and words. The code must have passed [ParseCode].
func (l Layout) Draw(c Content) (Drawing, error) {
	if code, err := ParseCode(string(c.Code)); err != nil {
		return Drawing{}, err
	} else if code != c.Code {
		return Drawing{}, errors.New("the code " + string(c.Code) + " is not in its plain form " + string(code))
	}
	modules, err := l.Modules(c.Code)
	if err != nil {
		return Drawing{}, err
	}
	d := Drawing{Width: l.Width, Height: l.Height}
	black := Ink{}
	m := l.QR.Width / Modules
	for y := range modules {
		for x := 0; x < Modules; x++ {
			from := x
			for x < Modules && modules[y][x] {
				x++
			}
			if x > from { // a run is one rectangle: no hairlines between modules
				d.Polygons = append(d.Polygons, Polygon{rectangle(Rect{l.QR.X + float64(from)*m, l.QR.Y + float64(y)*m, float64(x-from) * m, m}), black})
			}
		}
	}
	for _, p := range l.Marks {
		d.Polygons = append(d.Polygons, Polygon{quarter(p, l.MarkRadius, 0), black}, Polygon{quarter(p, l.MarkRadius, 2), black})
	}
	d.Polygons = append(d.Polygons, Polygon{l.arrow(), black})
	for _, p := range l.Patches {
		if p.Ink != (Ink{255, 255, 255}) {
			d.Polygons = append(d.Polygons, Polygon{rectangle(p.Rect), p.Ink})
		}
	}
	title, note := c.Title, c.Note
	if title == "" {
		title = c.Code.Readable()
	} else if note == "" {
		note = c.Code.Readable()
	}
	d.Words = append(d.Words, Words{Room: l.Title, Size: l.Title.Height, Bold: true, Text: title, Ink: black})
	if note != "" {
		d.Words = append(d.Words, Words{Room: l.Note, Size: l.Note.Height * 0.6, Text: note, Ink: black})
	}
	return d, nil
}

func rectangle(r Rect) []Point {
	return []Point{{r.X, r.Y}, {r.X + r.Width, r.Y}, {r.X + r.Width, r.Y + r.Height}, {r.X, r.Y + r.Height}}
}

// quarter is a quarter of a disc: number 0 is the upper right one, further ones clockwise.
func quarter(c Point, radius float64, number int) []Point {
	const steps = 12
	out := []Point{c}
	for i := range steps + 1 {
		a := (float64(number-1) + float64(i)/steps) * math.Pi / 2
		out = append(out, Point{c.X + radius*math.Cos(a), c.Y + radius*math.Sin(a)})
	}
	return out
}

// arrow points out of the upper edge, towards the plant, above the margin of the QR code.
func (l Layout) arrow() []Point {
	room := l.QR.Y - 4*l.QR.Width/Modules
	x := l.QR.Centre().X
	return []Point{{x, 0.2 * room}, {x + 0.65*room, 0.88 * room}, {x - 0.65*room, 0.88 * room}}
}
