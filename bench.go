package underlamp

import "underlamp/science/quantity"

// A Bench is a growing area with one set of walls, lamps and air, and what
// grows on it.
type Bench struct {
	Name  string // as a person calls it: "Cellar rack, middle tier"
	Note  string // free text
	Units quantity.System

	Space    Space
	Lamps    []Lamp
	Readings []Reading
	Plants   []Plant
	Crop     Crop
	Air      Air
	Room     Room
	Feed     Feed
	Price    Given[quantity.Price] // of electricity; under a tariff its mean over the day
	Money    Money
	Limits   Limits
	Method   Method // for reports; no figure needs it
}

// A Space is the box that light stays in.
type Space struct {
	Width  quantity.Metre // left to right, x
	Depth  quantity.Metre // front to back, y
	Height quantity.Metre // planting surface to ceiling or shelf above, z
	Walls  [6]Wall        // in the order of Side

	Shelves []Shelf
}

// A Shelf is a flat opaque board inside the space: it shades what is below and
// sends a share of the light back on either face.
type Shelf struct {
	Name        string
	X1, X2      quantity.Metre // from the left
	Y1, Y2      quantity.Metre // from the front
	Height      quantity.Metre // above the planting surface
	Top, Bottom Given[quantity.Fraction]
}

// A Side is one of the six sides of the space.
type Side int

// The sides. The order is that of package lightfield.
const (
	Left  Side = iota // x = 0
	Right             // x = width
	Front             // y = 0
	Back              // y = depth
	Below             // z = 0: the planting surface with what lies between the plants
	Above             // z = height: ceiling, or the shelf above
)

// Sides lists the six sides in order.
func Sides() [6]Side { return [6]Side{Left, Right, Front, Back, Below, Above} }

// String is the key of the side in a bench file.
func (s Side) String() string {
	return [...]string{"left", "right", "front", "back", "below", "above"}[s]
}

// A Wall is one side of the space: open, or a surface that sends light back,
// scattered evenly but for the share that it mirrors.
type Wall struct {
	Open        bool
	Surface     string // what the person called it: "white paint"; empty if a number was given
	Reflectance Given[quantity.Fraction]
	Low, High   quantity.Fraction        // the range that the class of surface spans
	Mirror      Given[quantity.Fraction] // part of Reflectance that leaves as from a mirror; at most Reflectance
}
