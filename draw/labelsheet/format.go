package labelsheet

import (
	"fmt"
	"math"
	"strings"

	"underlamp/science/plantlabel"
)

// A Page is a size of paper, mm.
type Page struct {
	Name          string
	Width, Height float64
}

// Pages of plain paper (ISO 216 and ANSI/ASME Y14.1).
var (
	A4     = Page{"A4", 210, 297}
	Letter = Page{"Letter", 215.9, 279.4}
)

// A Format is how cells for labels lie on a page.
type Format struct {
	Name          string
	Page          Page
	Columns, Rows int
	Left, Top     float64 // of the first cell
	StepX, StepY  float64 // from one cell to the next
	Width, Height float64 // of a cell
	Cut           bool    // plain paper: marks to cut along are printed
}

// Cells is how many labels a sheet holds.
func (f Format) Cells() int { return f.Columns * f.Rows }

// margin of plain paper that every printer reaches into, mm; common practice, no source.
const margin = 9

// Formats are those on which a layout fits without being scaled, plain paper first.
func Formats(l plantlabel.Layout) []Format {
	var out []Format
	for _, p := range []Page{A4, Letter} {
		const gutter = 4 // room for the marks
		columns := int((p.Width - 2*margin + gutter) / (l.Width + gutter))
		rows := int((p.Height - 2*margin + gutter) / (l.Height + gutter))
		f := Format{Name: strings.ToLower(p.Name), Page: p, Columns: columns, Rows: rows, StepX: l.Width + gutter, StepY: l.Height + gutter, Width: l.Width, Height: l.Height, Cut: true}
		f.Left = (p.Width - float64(columns)*f.StepX + gutter) / 2
		f.Top = (p.Height - float64(rows)*f.StepY + gutter) / 2
		if columns > 0 && rows > 0 {
			out = append(out, f)
		}
	}
	for _, s := range []struct {
		page            Page
		columns, rows   int
		width, height   float64
		between, beside float64 // gaps from column to column and row to row
	}{
		{A4, 3, 8, 70, 37, 0, 0}, {A4, 3, 7, 63.5, 38.1, 2.5, 0}, {A4, 2, 7, 99.1, 38.1, 2.5, 0}, {A4, 2, 6, 105, 48, 0, 0}, {A4, 2, 4, 99.1, 67.7, 2.5, 0}, {A4, 1, 3, 199.6, 93.1, 0, 0},
		{Letter, 3, 10, 66.675, 25.4, 3.175, 0}, {Letter, 2, 5, 101.6, 50.8, 4.7625, 0}, {Letter, 2, 3, 101.6, 84.6667, 4.7625, 0},
	} {
		if s.width < l.Width || s.height < l.Height {
			continue
		}
		f := Format{Name: fmt.Sprintf("%s-%gx%g", strings.ToLower(s.page.Name), round1(s.width), round1(s.height)), Page: s.page, Columns: s.columns, Rows: s.rows, Width: s.width, Height: s.height, StepX: s.width + s.between, StepY: s.height + s.beside}
		f.Left = (s.page.Width - float64(s.columns)*f.StepX + s.between) / 2
		f.Top = (s.page.Height - float64(s.rows)*f.StepY + s.beside) / 2
		out = append(out, f)
	}
	return out
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }

// FormatOf finds a format of a layout by its name.
func FormatOf(l plantlabel.Layout, name string) (Format, error) {
	var names []string
	for _, f := range Formats(l) {
		if strings.EqualFold(f.Name, name) {
			return f, nil
		}
		names = append(names, f.Name)
	}
	return Format{}, fmt.Errorf("the label %q (%g × %g mm) does not come on %q; it fits %s", l.Name, l.Width, l.Height, name, strings.Join(names, ", "))
}

// LayoutOf finds a layout by its name.
func LayoutOf(name string) (plantlabel.Layout, error) {
	var names []string
	for _, l := range plantlabel.Layouts() {
		if strings.EqualFold(l.Name, name) {
			return l, nil
		}
		names = append(names, l.Name)
	}
	return plantlabel.Layout{}, fmt.Errorf("there is no label called %q; there are %s", name, strings.Join(names, ", "))
}

// A Scale corrects a printer: what is drawn is made so much larger. The zero Scale
// corrects nothing.
type Scale struct{ X, Y float64 }

// ScaleOf is the scale that makes good what a ruler read between the lines of the check
// page, across and down, in mm.
func ScaleOf(across, down float64) (Scale, error) {
	s := Scale{CheckAcross / across, CheckDown / down}
	if !(s.X > 0.9 && s.X < 1.1 && s.Y > 0.9 && s.Y < 1.1) {
		return Scale{}, fmt.Errorf("between the lines of the check page are %g mm across and %g mm down; %g and %g mm cannot be right: set the printer to 100 %% and print the page again", float64(CheckAcross), float64(CheckDown), across, down)
	}
	return s, nil
}

func (s Scale) or1() Scale {
	if s.X == 0 {
		s.X = 1
	}
	if s.Y == 0 {
		s.Y = 1
	}
	return s
}

// ParseScale reads what a rule reads on the check page, across and down in mm: 148.5x198.
// An empty text corrects nothing.
func ParseScale(text string) (Scale, error) {
	if text == "" {
		return Scale{}, nil
	}
	var across, down float64
	if n, err := fmt.Sscanf(strings.NewReplacer("×", "x", ",", ".", " ", "").Replace(text), "%fx%f", &across, &down); n != 2 || err != nil {
		return Scale{}, fmt.Errorf("%q is not what a rule reads across and down in mm, such as 148.5x198", text)
	}
	return ScaleOf(across, down)
}
