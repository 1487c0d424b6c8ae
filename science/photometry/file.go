package photometry

import (
	"math"
	"strings"

	"underlamp/science/quantity"
)

// A File is what a photometric file says about a lamp, with the doubts of the
// reader. The zero value of a number that a file may leave out is said beside it.
type File struct {
	Format      string      // "LM-63-2002", "EULUMDAT"
	Coordinates Coordinates // of the angles in the file; the Web is always type C
	Symmetry    Symmetry    // as stored
	Keywords    []Keyword   // in the order of the file
	Web         *Web
	Opening     Opening

	Absolute      bool    // the intensities are of this lamp as it is, not per lumen of bare lamps in it
	Lamps         int     // number of lamps (tubes, bulbs) in it, as stated
	StatedLumens  float64 // all lamps together, or the lamp as a whole if Absolute; NaN if not stated
	Multiplier    float64 // that the intensities were multiplied with, 1 if none
	Ballast       float64 // ballast factor that they were multiplied with, 1 if none
	Watts         float64 // input power in W; NaN if not stated
	Tilt          *Tilt   // nil if the light does not change with tilt
	DownwardShare float64 // stated share of light below the horizontal, 0 to 1; NaN if not stated
	OutputRatio   float64 // stated light output ratio, 0 to 1; NaN if not stated
	Notes         []Note  // what was assumed and what looks wrong, in the order of the file
}

// A Keyword is one named line of a file.
type Keyword struct {
	Name  string // without brackets: "MANUFAC"; empty for a label line without a name
	Value string
	Line  int // from 1
}

// A Note is something that a person should know about the reading.
type Note struct {
	Line int // from 1; 0 if it concerns the file as a whole
	Text string
}

// Tilt is how the light of a lamp changes when it is tilted.
type Tilt struct {
	Geometry  int // 1 lamp vertical, 2 horizontal and stays so, 3 horizontal and tilts along
	AnglesDeg []float64
	Factors   []float64
	File      string  // name of the file it came from, or was to come from
	FactorAt0 float64 // that the intensities were multiplied with; 1 if not at hand
	NotAtHand bool    // the file was named but could not be read
}

// Keyword returns the first value of a name, regardless of case; empty if there
// is none.
func (f *File) Keyword(name string) string {
	for _, k := range f.Keywords {
		if strings.EqualFold(k.Name, name) {
			return k.Value
		}
	}
	return ""
}

// Efficacy returns the light of the web per watt, in lm/W; NaN if the power is
// not stated.
func (f *File) Efficacy() float64 { return f.Web.Flux() / f.Watts }

// Difference returns by how much the light of the web differs from the stated
// lumens, as a share of these: for an absolute file an error of the file, else
// the loss in the fixture (0.8 of the lumens leave it: −0.2). NaN if not stated.
func (f *File) Difference() float64 { return f.Web.Flux()/f.StatedLumens - 1 }

// Shape is the form of a luminous opening.
type Shape int

// The shapes. Lying and upright are as seen when the lamp faces down.
const (
	PointShape Shape = iota
	RectangleShape
	BoxShape
	DiscShape
	EllipseShape
	CylinderShape
	EllipticCylinderShape
	SphereShape
	EllipsoidShape
	LyingCylinderShape
	UprightDiscShape
)

// String names the shape.
func (s Shape) String() string {
	return [...]string{"point", "rectangle", "box", "disc", "ellipse", "upright cylinder", "upright elliptic cylinder",
		"sphere", "ellipsoid", "lying cylinder", "upright disc"}[s]
}

// Outline is what is left of a shape from straight below.
type Outline int

// The outlines.
const (
	PointOutline Outline = iota
	RectangleOutline
	RoundOutline // a disc or an ellipse
)

// An Opening is the part of a lamp that gives light.
type Opening struct {
	Shape    Shape
	AlongC0  quantity.Metre // extent in the plane C0-C180 (length in LM-63)
	AlongC90 quantity.Metre // extent in the plane C90-C270 (width in LM-63)
	Height   quantity.Metre // extent along the beam axis
}

// Outline is the form of the opening as plants see it.
func (o Opening) Outline() Outline {
	switch o.Shape {
	case PointShape:
		return PointOutline
	case DiscShape, EllipseShape, CylinderShape, EllipticCylinderShape, SphereShape, EllipsoidShape:
		return RoundOutline
	}
	return RectangleOutline
}

// Turn returns the opening turned about the beam axis by the nearest quarter:
// an opening has only two principal directions.
func (o Opening) Turn(by quantity.Degree) Opening {
	if quarter := math.Mod(math.Round(float64(by)/90), 2); quarter != 0 {
		o.AlongC0, o.AlongC90 = o.AlongC90, o.AlongC0
	}
	return o
}

// Largest returns the largest extent of the opening. Nearer than about five
// times that, a lamp is no point (CIE S 017, term 17-25-104).
func (o Opening) Largest() quantity.Metre { return max(o.AlongC0, o.AlongC90, o.Height) }
