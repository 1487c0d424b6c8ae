package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/gif"
	"image/jpeg"
	"image/png"
	"math"
	"slices"
	"strings"
	"time"

	scaling "golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// A Strip is pictures of plants side by side, all at one scale and one exposure: a row a
// plant or treatment, a column a day.
type Strip struct {
	Title   string
	Columns []string
	Rows    []StripRow
}

// A StripRow is a plant, or a treatment.
type StripRow struct {
	Name  string
	Cells []*StripCell // one a column; nil: no picture
}

// A StripCell is one plant on one day.
type StripCell struct {
	Look    *Look
	Caption string
	Picture image.Image // the plant in its middle, at Look.MMPerPixel; nil: not loaded
}

// mostColumns bounds a strip: more days are thinned out evenly, the first and the last kept.
const mostColumns = 12

// pictured are looks that a strip can show.
func pictured(looks []Look) []*Look {
	var out []*Look
	for i := range looks {
		if l := &looks[i]; l.Picture != "" && l.Refused == nil && l.MMPerPixel > 0 && !l.Side {
			out = append(out, l)
		}
	}
	return out
}

// days are those of looks, thinned out to what a strip holds.
func days(looks []*Look, zone *time.Location) []string {
	var all []string
	for _, l := range looks {
		if d := l.Shot.Taken.In(zone).Format(time.DateOnly); !slices.Contains(all, d) {
			all = append(all, d)
		}
	}
	slices.Sort(all)
	if len(all) <= mostColumns {
		return all
	}
	var out []string
	for i := range mostColumns {
		out = append(out, all[i*(len(all)-1)/(mostColumns-1)])
	}
	return out
}

// columnName is a day as people read it: the day after transplanting, where it is known.
func columnName(day string, looks []*Look, zone *time.Location) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	name := t.Format("2 Jan")
	for _, l := range looks {
		if l.Day >= 0 && l.Shot.Taken.In(zone).Format(time.DateOnly) == day {
			return fmt.Sprintf("day %d, %s", l.Day, name)
		}
	}
	return name
}

// caption tells the main figure of a look.
func caption(l *Look) string {
	a, ok := l.Figure(Area)
	if !ok {
		return ""
	}
	text := fmt.Sprintf("%.0f cm²", a.Value)
	if l.Mass != nil {
		text += fmt.Sprintf(", ~%.0f g", l.Mass.Grams)
	}
	if !l.Corrected {
		text += ", colours as taken"
	}
	return text
}

// Within are the looks at photos taken from a time to before another; two zero times bound
// nothing.
func Within(looks []Look, from, to time.Time) []Look {
	if from.IsZero() && to.IsZero() {
		return looks
	}
	var out []Look
	for _, l := range looks {
		if at := l.Shot.Taken; !at.Before(from) && at.Before(to) {
			out = append(out, l)
		}
	}
	return out
}

// StripOf lays out plants through time: a row each, in the order of names. Pictures are still
// to be loaded, see [Strip.Load]. It is an error if there is nothing to show.
func StripOf(title string, looks []Look, plants []string, zone *time.Location) (*Strip, error) {
	groups := make([]StripGroup, len(plants))
	for i, p := range plants {
		groups[i].Name = p
		for _, l := range looks {
			if l.Subject.Plant == p {
				groups[i].Looks = append(groups[i].Looks, l)
			}
		}
	}
	return StripBy(title, groups, zone)
}

// A StripGroup is the looks of a plant, or of all plants of a treatment.
type StripGroup struct {
	Name  string
	Looks []Look
}

// StripBy lays out groups side by side: on each day the plant of a group whose leaf area is the
// middle one, so that nobody chooses. It is an error if there is nothing to show.
func StripBy(title string, groups []StripGroup, zone *time.Location) (*Strip, error) {
	var all []*Look
	for _, g := range groups {
		all = append(all, pictured(g.Looks)...)
	}
	if len(all) == 0 {
		return nil, errors.New("there is no photo from above in which one of these plants was measured")
	}
	s := &Strip{Title: title}
	columns := days(all, zone)
	for _, d := range columns {
		s.Columns = append(s.Columns, columnName(d, all, zone))
	}
	for _, g := range groups {
		row := StripRow{Name: g.Name}
		mine := pictured(g.Looks)
		any := false
		for _, d := range columns {
			var today []*Look
			for _, l := range mine {
				if l.Shot.Taken.In(zone).Format(time.DateOnly) == d {
					today = append(today, l)
				}
			}
			if len(today) == 0 {
				row.Cells = append(row.Cells, nil)
				continue
			}
			slices.SortStableFunc(today, func(a, b *Look) int {
				x, _ := a.Figure(Area)
				y, _ := b.Figure(Area)
				switch {
				case x.Value < y.Value:
					return -1
				case x.Value > y.Value:
					return 1
				}
				return 0
			})
			l := today[(len(today)-1)/2]
			c := &StripCell{Look: l, Caption: caption(l)}
			if l.Subject.Plant != g.Name {
				c.Caption = l.Subject.Plant + l.Subject.Unit + ": " + c.Caption
			}
			row.Cells = append(row.Cells, c)
			any = true
		}
		if any {
			s.Rows = append(s.Rows, row)
		}
	}
	return s, nil
}

// Load fetches the pictures of a strip; one that cannot be had leaves its cell empty.
func (s *Strip) Load(picture func(l *Look) (image.Image, error)) (missing int) {
	for _, r := range s.Rows {
		for i, c := range r.Cells {
			if c == nil {
				continue
			}
			p, err := picture(c.Look)
			if err != nil {
				r.Cells[i] = nil
				missing++
				continue
			}
			c.Picture = p
		}
	}
	return missing
}

// extent is the side of a square that holds every plant with its surroundings, mm.
func (s *Strip) extent() float64 {
	most := 0.0
	for _, r := range s.Rows {
		for _, c := range r.Cells {
			if c != nil && c.Picture != nil {
				b := c.Picture.Bounds()
				most = max(most, c.Look.MMPerPixel*float64(max(b.Dx(), b.Dy())))
			}
		}
	}
	return most
}

// The colours and sizes of a strip, pixels.
var (
	stripPaper = color.RGBA{255, 255, 255, 255}
	stripInk   = color.RGBA{30, 34, 38, 255}
	stripSoft  = color.RGBA{92, 100, 108, 255}
	stripEmpty = color.RGBA{238, 240, 242, 255}
)

const (
	stripGap    = 8
	stripHead   = 34
	stripLine   = 20
	stripFoot   = 34
	stripNames  = 110
	mostSide    = 12_000 // of a strip
	mostCell    = 320
	leastCell   = 60
	stripMargin = 14
)

// PNG draws the strip; width is about how wide it may be, in pixels (0: 1600).
func (s *Strip) PNG(width int) ([]byte, error) {
	p, err := s.draw(width, -1)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, p); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// JPEG draws the strip as [Strip.PNG] does, in a tenth of the bytes, for pages and reports.
func (s *Strip) JPEG(width int) ([]byte, error) {
	p, err := s.draw(width, -1)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, p, &jpeg.Options{Quality: 84}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// draw draws the strip, or, as a frame of a film, one column of it with rows side by side.
func (s *Strip) draw(width, frame int) (*image.RGBA, error) {
	extent := s.extent()
	if extent == 0 || len(s.Rows) == 0 {
		return nil, errors.New("there is no picture in the strip")
	}
	if width <= 0 {
		width = 1600
	}
	columns, rows, names := len(s.Columns), len(s.Rows), stripNames
	if frame >= 0 {
		columns, rows, names = len(s.Rows), 1, 0
	}
	cell := min(mostCell, max(leastCell, (width-names-2*stripMargin)/columns-stripGap))
	perMM := float64(cell) / extent
	w := names + 2*stripMargin + columns*(cell+stripGap)
	h := 2*stripMargin + stripHead + stripLine + rows*(cell+stripLine+stripGap) + stripFoot
	if w > mostSide || h > mostSide {
		return nil, fmt.Errorf("a strip of %d by %d pictures is too large; choose fewer plants", columns, rows)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Bounds(), image.NewUniform(stripPaper), image.Point{}, draw.Src)
	title := s.Title
	if frame >= 0 {
		title += ", " + s.Columns[frame]
	}
	faces := newFaces()
	faces.bold(out, stripMargin, stripMargin+20, title, w-2*stripMargin, stripInk)
	top := stripMargin + stripHead
	for i := range columns {
		name := ""
		if frame >= 0 {
			name = s.Rows[i].Name
		} else {
			name = s.Columns[i]
		}
		faces.plain(out, stripMargin+names+i*(cell+stripGap), top+14, name, cell, stripInk)
	}
	top += stripLine
	for j := range rows {
		y := top + j*(cell+stripLine+stripGap)
		if frame < 0 {
			faces.bold(out, stripMargin, y+cell/2, s.Rows[j].Name, names-8, stripInk)
		}
		for i := range columns {
			x := stripMargin + names + i*(cell+stripGap)
			row, column := j, i
			if frame >= 0 {
				row, column = i, frame
			}
			square := image.Rect(x, y, x+cell, y+cell)
			draw.Draw(out, square, image.NewUniform(stripEmpty), image.Point{}, draw.Src)
			c := s.Rows[row].Cells[column]
			if c == nil || c.Picture == nil {
				faces.plain(out, x+8, y+cell/2, "no photo", cell-16, stripSoft)
				continue
			}
			b := c.Picture.Bounds()
			k := c.Look.MMPerPixel * perMM
			pw, ph := float64(b.Dx())*k, float64(b.Dy())*k
			mid := image.Pt(x+cell/2, y+cell/2)
			to := image.Rect(mid.X-int(pw/2), mid.Y-int(ph/2), mid.X-int(pw/2)+int(pw), mid.Y-int(ph/2)+int(ph))
			scaling.ApproxBiLinear.Scale(out.SubImage(square).(*image.RGBA), to, c.Picture, b, draw.Src, nil)
			faces.plain(out, x, y+cell+15, c.Caption, cell, stripSoft)
		}
	}
	// A bar of a round length, the same for every picture.
	bar := 10.0
	for _, l := range []float64{20, 50, 100, 200} {
		if l < extent*0.8 {
			bar = l
		}
	}
	y := h - stripMargin - 12
	x0, x1 := stripMargin+names, stripMargin+names+int(math.Round(bar*perMM))
	draw.Draw(out, image.Rect(x0, y, x1, y+4), image.NewUniform(stripInk), image.Point{}, draw.Src)
	faces.plain(out, x1+8, y+7, fmt.Sprintf("%.0f cm. One scale, one exposure.", bar/10), w-x1-stripMargin-8, stripSoft)
	return out, nil
}

// faces are the letters of a strip.
type faces struct{ regular, heavy font.Face }

func newFaces() faces {
	make := func(ttf []byte, size float64) font.Face {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("photo: " + err.Error())
		}
		face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
		if err != nil {
			panic("photo: " + err.Error())
		}
		return face
	}
	return faces{make(goregular.TTF, 12), make(gobold.TTF, 15)}
}

func (f faces) plain(to draw.Image, x, y int, text string, room int, ink color.Color) {
	write(f.regular, to, x, y, text, room, ink)
}

func (f faces) bold(to draw.Image, x, y int, text string, room int, ink color.Color) {
	write(f.heavy, to, x, y, text, room, ink)
}

// write sets a line, cut to its room.
func write(face font.Face, to draw.Image, x, y int, text string, room int, ink color.Color) {
	for r := []rune(text); font.MeasureString(face, text).Ceil() > room; {
		if len(r) == 0 {
			return
		}
		r = r[:len(r)-1]
		text = string(r) + "…"
	}
	d := font.Drawer{Dst: to, Src: image.NewUniform(ink), Face: face, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

// GIF is the strip as a film: a frame a day, with its rows side by side. GIF plays wherever
// pictures are shown; its 256 colours are chosen once for all frames, so that nothing
// flickers but the plants.
func (s *Strip) GIF(width int) ([]byte, error) {
	if width <= 0 {
		width = 900
	}
	var frames []*image.RGBA
	for i := range s.Columns {
		f, err := s.draw(width, i)
		if err != nil {
			return nil, err
		}
		frames = append(frames, f)
	}
	p := paletteOf(frames)
	look := newNearest(p)
	out := &gif.GIF{}
	for i, f := range frames {
		m := image.NewPaletted(f.Rect, p)
		for j := 0; j < len(f.Pix); j += 4 {
			m.Pix[j/4] = look.of(f.Pix[j], f.Pix[j+1], f.Pix[j+2])
		}
		out.Image = append(out.Image, m)
		delay := 70 // hundredths of a second
		if i == len(frames)-1 {
			delay = 250
		}
		out.Delay = append(out.Delay, delay)
	}
	var b bytes.Buffer
	if err := gif.EncodeAll(&b, out); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// ReportRows is how many plants a report shows.
const ReportRows = 6

// Says tells in words what the strip shows.
func (s *Strip) Says() string {
	var rows []string
	for _, r := range s.Rows {
		var cells []string
		for i, c := range r.Cells {
			if c != nil && c.Caption != "" {
				cells = append(cells, s.Columns[i]+" "+c.Caption)
			}
		}
		rows = append(rows, r.Name+": "+strings.Join(cells, "; "))
	}
	return strings.Join(rows, ". ") + "."
}
