package labelsheet

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"

	"underlamp/science/plantlabel"
)

// MostLabels bounds what is printed at once.
const MostLabels = 5000

// Options are choices of [Labels].
type Options struct {
	Layout plantlabel.Layout
	Format Format
	Scale  Scale
	Skip   int // cells of the first sheet that are used already
	Title  string
}

// Labels are sheets of labels in the order in which they come, row by row, as a PDF.
func Labels(o Options, labels []plantlabel.Content) ([]byte, error) {
	switch {
	case len(labels) == 0:
		return nil, errors.New("there is no plant to print a label for")
	case len(labels) > MostLabels:
		return nil, fmt.Errorf("there are %d labels; at most %d are printed at once", len(labels), MostLabels)
	case o.Skip < 0 || o.Skip >= o.Format.Cells():
		return nil, fmt.Errorf("a sheet of %s has %d labels; skip 0 to %d", o.Format.Name, o.Format.Cells(), o.Format.Cells()-1)
	}
	p := open(o.Format.Page, o.Title)
	scale := o.Scale.or1()
	for i, c := range labels {
		cell := (i + o.Skip) % o.Format.Cells()
		if cell == 0 || i == 0 {
			p.AddPage()
		}
		d, err := o.Layout.Draw(c)
		if err != nil {
			return nil, err
		}
		// The corner of the cell stays where the sheet has it: the paper is not scaled.
		x := o.Format.Left + float64(cell%o.Format.Columns)*o.Format.StepX + (o.Format.Width-d.Width)/2
		y := o.Format.Top + float64(cell/o.Format.Columns)*o.Format.StepY + (o.Format.Height-d.Height)/2
		draw(p, d, x*scale.X, y*scale.Y, scale)
		if o.Format.Cut {
			cutMarks(p, x*scale.X, y*scale.Y, d.Width*scale.X, d.Height*scale.Y)
		}
	}
	return done(p)
}

// open begins a document.
func open(page Page, title string) *fpdf.Fpdf {
	p := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: page.Width, Ht: page.Height}})
	p.SetMargins(0, 0, 0)
	p.SetAutoPageBreak(false, 0)
	p.SetCatalogSort(true)
	fixed := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC) // the same labels give the same bytes
	p.SetCreationDate(fixed)
	p.SetModificationDate(fixed)
	p.SetTitle(title, true)
	p.SetCreator("underlamp", true)
	p.SetLang("en")
	p.AddUTF8FontFromBytes("Go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("Go", "B", gobold.TTF)
	return p
}

func done(p *fpdf.Fpdf) ([]byte, error) {
	var b bytes.Buffer
	if err := p.Output(&b); err != nil {
		return nil, fmt.Errorf("the sheet cannot be drawn: %w", err)
	}
	return b.Bytes(), nil
}

// draw puts a label at a place.
func draw(p *fpdf.Fpdf, d plantlabel.Drawing, x, y float64, scale Scale) {
	for _, a := range d.Polygons {
		points := make([]fpdf.PointType, len(a.Points))
		for i, q := range a.Points {
			points[i] = fpdf.PointType{X: x + q.X*scale.X, Y: y + q.Y*scale.Y}
		}
		p.SetFillColor(int(a.Ink.R), int(a.Ink.G), int(a.Ink.B))
		p.Polygon(points, "F")
	}
	for _, w := range d.Words {
		words(p, w, x, y, scale)
	}
}

// words sets a line as large as its room lets it be. The height of capitals of the Go fonts is
// 0.72 of their size.
func words(p *fpdf.Fpdf, w plantlabel.Words, x, y float64, scale Scale) {
	style := ""
	if w.Bold {
		style = "B"
	}
	const pt = 72 / 25.4
	p.SetFont("Go", style, w.Size*pt)
	p.SetTextColor(int(w.Ink.R), int(w.Ink.G), int(w.Ink.B))
	text, size := w.Text, w.Size
	if width := p.GetStringWidth(text); width > w.Room.Width {
		size = max(size*w.Room.Width/width, leastType)
		p.SetFont("Go", style, size*pt)
		if code, _, more := strings.Cut(text, " · "); more && p.GetStringWidth(text) > w.Room.Width {
			text = code // the place is left out before the code is cut
		}
		for r := []rune(text); len(r) > 1 && p.GetStringWidth(text) > w.Room.Width; {
			r = r[:len(r)-1]
			text = string(r) + "…"
		}
	}
	p.Text(x+w.Room.X*scale.X, y+(w.Room.Y+w.Room.Height/2+0.36*size)*scale.Y, text)
}

// leastType is the smallest type, mm: 6 points.
const leastType = 6 * 25.4 / 72

// cutMarks are hairlines outside of the corners.
func cutMarks(p *fpdf.Fpdf, x, y, w, h float64) {
	const from, to = 0.6, 2
	p.SetDrawColor(120, 120, 120)
	p.SetLineWidth(0.1)
	for _, cx := range []float64{x, x + w} {
		for _, cy := range []float64{y, y + h} {
			dx, dy := 1.0, 1.0
			if cx == x {
				dx = -1
			}
			if cy == y {
				dy = -1
			}
			p.Line(cx+dx*from, cy, cx+dx*to, cy)
			p.Line(cx, cy+dy*from, cx, cy+dy*to)
		}
	}
}

// Writable says whether the letters of a text can be printed.
func Writable(text string) bool {
	f, err := sfnt.Parse(gobold.TTF)
	if err != nil {
		panic("labelsheet: " + err.Error())
	}
	var b sfnt.Buffer
	for _, c := range text {
		if i, err := f.GlyphIndex(&b, c); err != nil || i == 0 {
			return false
		}
	}
	return true
}
