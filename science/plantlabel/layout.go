package plantlabel

import "underlamp/science/srgb"

// Modules is how many modules the QR code has along a side.
const Modules = 21

// A Point is a place on a label, mm.
type Point struct{ X, Y float64 }

// A Rect is a rectangle on a label, mm.
type Rect struct{ X, Y, Width, Height float64 }

// Centre of the rectangle.
func (r Rect) Centre() Point { return Point{r.X + r.Width/2, r.Y + r.Height/2} }

// An Ink is a printed colour as values of sRGB.
type Ink struct{ R, G, B uint8 }

// Linear is what the ink nominally reflects, as a share of what white paper reflects, in
// linear light of the primaries of sRGB (IEC61966).
func (i Ink) Linear() [3]float64 {
	return [3]float64{srgb.Linear(float64(i.R) / 255), srgb.Linear(float64(i.G) / 255), srgb.Linear(float64(i.B) / 255)}
}

// Neutral says that an ink is a grey, black or white.
func (i Ink) Neutral() bool { return i.R == i.G && i.G == i.B }

// A Patch is a rectangle of one ink, read in the photo.
type Patch struct {
	Rect
	Name string
	Ink  Ink
}

// A Layout is one size of label.
type Layout struct {
	Letter        byte   // in the text of the QR code
	Name          string // for people: small, large, stick, card
	Width, Height float64
	QR            Rect       // the modules, without their margin of four modules
	Marks         [4]Point   // centres: upper left, upper right, lower right, lower left
	MarkRadius    float64    // of the disc of two black and two white quarters
	Patches       []Patch    // 12: five greys with black, white, and six colours
	White         []Point    // where the paper is bare for at least 1 mm around
	Title, Note   Rect       // room for words
	Fits          []LabelFit // formats that it fits on without being scaled
}

// A LabelFit is a format of self-adhesive labels on a sheet. The sizes are common ones of
// the trade (common practice, no source).
type LabelFit struct {
	Width, Height float64 // mm
	Columns, Rows int     // on a sheet
	Sheet         string  // A4 or Letter
}

// The inks of the patches, from dark to light and round the colours. Greys are close to
// even steps of lightness; the colours lie around those of leaves: leaf green, pale green
// and yellow for leaves that lack something, brown for dead tissue, red and blue for the
// directions that leaves do not have.
var inks = []Patch{
	{Name: "black", Ink: Ink{0, 0, 0}},
	{Name: "grey 1", Ink: Ink{64, 64, 64}},
	{Name: "red", Ink: Ink{200, 50, 50}},
	{Name: "yellow", Ink: Ink{235, 205, 60}},
	{Name: "grey 3", Ink: Ink{160, 160, 160}},
	{Name: "grey 2", Ink: Ink{112, 112, 112}},
	{Name: "leaf green", Ink: Ink{70, 135, 55}},
	{Name: "pale green", Ink: Ink{165, 205, 105}},
	{Name: "white", Ink: Ink{255, 255, 255}},
	{Name: "grey 4", Ink: Ink{208, 208, 208}},
	{Name: "brown", Ink: Ink{130, 90, 50}},
	{Name: "blue", Ink: Ink{55, 85, 170}},
}

// Layouts lists the sizes. Their letters never change their meaning: a printed label
// stays readable.
func Layouts() []Layout {
	a4, letter := "A4", "Letter"
	return []Layout{
		layout('S', "small", 60, 35, 0.96, Point{11.2, 7.42}, 3, 3.9, Rect{35.7, 8.2, 23.4, 18.6},
			Rect{35.7, 1.2, 17, 6.2}, Rect{35.7, 27.6, 17, 6.2},
			LabelFit{70, 37, 3, 8, a4}, LabelFit{63.5, 38.1, 3, 7, a4}),
		layout('L', "large", 96, 48, 1.36, Point{14.5, 9.72}, 3.8, 4.7, Rect{49.5, 10, 45, 28},
			Rect{49.5, 1.4, 37, 8}, Rect{49.5, 38.8, 37, 8},
			LabelFit{99.1, 67.7, 2, 4, a4}, LabelFit{105, 48, 2, 6, a4}, LabelFit{101.6, 50.8, 2, 5, letter}),
		layout('T', "stick", 34, 80, 0.96, Point{6.92, 10.9}, 2.8, 3.7, Rect{2.5, 36, 29, 18},
			Rect{2.5, 55, 29, 9}, Rect{2.5, 64.4, 29, 8.4}),
		layout('C', "card", 140, 90, 2.4, Point{25, 19.8}, 6, 7.4, Rect{86, 20, 52, 50},
			Rect{86, 2, 39, 16}, Rect{86, 72, 39, 16},
			LabelFit{148, 105, 1, 4, a4}),
	}
}

// LayoutOf is the layout of a letter.
func LayoutOf(letter byte) (Layout, bool) {
	for _, l := range Layouts() {
		if l.Letter == letter {
			return l, true
		}
	}
	return Layout{}, false
}

// layout puts a layout together from the size of a module, the corner of the QR code, the
// radius of the marks and their distance from the edges, and the rooms of patches and words.
func layout(letter byte, name string, w, h, module float64, qr Point, radius, inset float64, patches, title, note Rect, fits ...LabelFit) Layout {
	l := Layout{
		Letter: letter, Name: name, Width: w, Height: h,
		QR:         Rect{qr.X, qr.Y, Modules * module, Modules * module},
		Marks:      [4]Point{{inset, inset}, {w - inset, inset}, {w - inset, h - inset}, {inset, h - inset}},
		MarkRadius: radius,
		Title:      title, Note: note, Fits: fits,
	}
	const columns, gap = 4, 0.6
	rows := len(inks) / columns
	dx, dy := patches.Width/columns, patches.Height/float64(rows)
	for i, p := range inks {
		p.Rect = Rect{patches.X + float64(i%columns)*dx + gap/2, patches.Y + float64(i/columns)*dy + gap/2, dx - gap, dy - gap}
		l.Patches = append(l.Patches, p)
	}
	// The margin of the QR code, two modules outside of it, all around.
	m := 2 * module
	for _, t := range []float64{0, 0.25, 0.5, 0.75, 1} {
		along := t * l.QR.Width
		l.White = append(l.White,
			Point{qr.X + along, qr.Y - m}, Point{qr.X + along, qr.Y + l.QR.Height + m},
			Point{qr.X - m, qr.Y + along}, Point{qr.X + l.QR.Width + m, qr.Y + along})
	}
	return l
}
