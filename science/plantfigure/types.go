package plantfigure

import "math"

// A Picture is a photo brought to a plane.
type Picture struct {
	Width, Height int       // pixels
	PerPixel      float64   // mm on the plane, the same along x and y
	Pix           []float32 // red, green, blue of each pixel, row by row: 3·Width·Height values of linear light; 1 is white paper

	// Corrected says that white balance and colours were set from the patches of a
	// label. Without, only figures that bear a colour cast are given full weight.
	Corrected bool

	// Seen is which pixels the photo shows, row by row, Width·Height of them; nil: all.
	// A plant that reaches a pixel that is not shown is refused.
	Seen []bool

	// NotPlant are areas that are label, tape or tool; what lies in one is never plant.
	NotPlant []Ring

	// Blur is the standard deviation of the blur of an edge in pixels, if it is known
	// from the label's edges; 0: taken as 1.
	Blur float64
}

// A Point is a place in a picture, in pixels.
type Point struct{ X, Y float64 }

// A Ring is a closed line, its last point joined to the first. Outlines run clockwise
// as seen on a screen, holes the other way round.
type Ring []Point

// A View is from where a picture was taken.
type View int

const (
	FromAbove View = iota
	FromSide       // up is toward smaller y
)

// A Wanted says which plant of the picture is asked for.
type Wanted struct {
	View View

	// Seed is where the plant is expected, and Reach how far from there its nearest leaf
	// may lie, mm. Reach 0: a seed is not known, the greatest plant is taken.
	Seed  Point
	Reach float64

	// Others are where other plants are expected, such as those of other labels. A plant
	// that has grown together with one of them is refused.
	Others []Point

	// Base is the y of the planting surface for a view from the side; NaN: the lowest
	// leaf or stem is taken.
	Base float64

	// ScaleSD is the relative standard deviation of PerPixel: 0.01 for one per cent. That
	// of leaves above the plane is for who calls, who knows how far the camera stood; see
	// [Value.Times].
	ScaleSD float64

	// One says that a person has looked and that all of it is one plant, so that a
	// shape like two plants is no ground to refuse.
	One bool

	// Burn are the thresholds for burnt spots; the zero value stands for [UsualBurn].
	Burn BurnModel
}

// A Part is what one cause alone would spread a figure.
type Part struct {
	Cause string  // one of the constants below, or the caller's own
	SD    float64 // standard deviation, in the unit of the figure
}

// Causes of spread.
const (
	CauseScale     = "scale"              // mm per pixel
	CauseEdge      = "edge of the leaf"   // where in a blurred edge the leaf ends
	CauseThreshold = "leaf or background" // how green a leaf must be
	CauseGaps      = "gaps between leaves"
	CauseColour    = "colour of the light"
	CauseBase      = "planting surface"
	CauseBurn      = "what is burnt"
)

// A Value is a figure with its standard deviation, of which the squares of the parts are
// the sum.
type Value struct {
	Value float64
	SD    float64
	Parts []Part
}

// newValue puts a figure together from independent parts; parts of no size are left out.
func newValue(v float64, parts ...Part) Value {
	out := Value{Value: v}
	s := 0.0
	for _, p := range parts {
		if p.SD = math.Abs(p.SD); p.SD > 0 {
			out.Parts = append(out.Parts, p)
			s += p.SD * p.SD
		}
	}
	out.SD = math.Sqrt(s)
	return out
}

// Times is the value by a factor that has a relative standard deviation of its own, such
// as the correction for leaves that stand nearer to the camera than the plane.
func (v Value) Times(factor, relativeSD float64, cause string) Value {
	parts := make([]Part, 0, len(v.Parts)+1)
	for _, p := range v.Parts {
		parts = append(parts, Part{p.Cause, p.SD * factor})
	}
	return newValue(v.Value*factor, append(parts, Part{cause, v.Value * factor * relativeSD})...)
}

// A Top is what a view from above tells of one plant.
type Top struct {
	Area       Value // projected leaf area, cm²: what the camera sees, without the leaves below
	Width      Value // the greatest width between two parallel lines (maximum Feret diameter), mm
	Narrow     Value // the least such width, mm
	Equivalent Value // diameter of the circle of the same area, mm
	Roundness  Value // 4·area / (π·width²): 1 a disc, 0 a line
	Solidity   Value // area over that of its convex hull, 0 to 1
	Plants     int   // separate pieces that a plant could be, this one among them, within its crown

	// Greenness is the mean dark green colour index of the leaf area, 0 to 1; see [DGCI].
	// It needs corrected colours; NaN without.
	Greenness Value
	Yellow    Value // share of leaf area that is yellow
	Red       Value // share of leaf area that is red or purple

	// Brown is the share of the leaf area of a zone that is in spots that look burnt,
	// each weighed with its chance. The inner zone is what lies nearer to the heart than
	// half of the equivalent radius.
	BrownInner, BrownOuter Value
	Spots                  []Spot // most likely first

	Heart   Point // centre of the crown, pixels
	Outline []Ring
	Doubts  []string // sentences about what may be wrong though it was measured
}

// A Side is what a view from the side tells of one plant.
type Side struct {
	Height  Value // from the planting surface to the highest leaf, mm
	Width   Value // horizontal, mm
	Area    Value // projected, cm²
	Stretch Value // height over width

	Yellow, Red Value // shares of leaf area
	Outline     []Ring
	Base        float64 // y of the planting surface that was used, pixels
	Doubts      []string
}

// A Spot is a place on a leaf that looks burnt, for a person to confirm or reject.
type Spot struct {
	Outline  Ring
	At       Point   // its centre, pixels
	Area     float64 // mm²
	Inner    bool    // in the inner zone
	Seen     Features
	Chance   float64 // that a person would call it burnt, 0 to 1
	ChanceSD float64 // its standard deviation, from what is not known of the thresholds
}

// Features are what is seen of a spot, in units in which a usual burnt spot and a usual sound one
// lie about 1 apart. They are kept with a person's verdict, and [LearnBurn] reads them.
type Features struct {
	Brown    float64 // how far the hue has gone from leaf toward brown
	Contrast float64 // darker than the leaf around it
	Size     float64 // log of the area in mm²
	Inner    float64 // 1 in the inner zone, else 0
	Border   float64 // share of its outline that borders on background, 0 to 1
}

// A Verdict is what a person said of a spot.
type Verdict struct {
	Seen  Features
	Burnt bool
}

// A Refusal says why a plant was not measured, and what to do.
type Refusal struct {
	Reason  Reason
	Because string // a sentence
	Advice  string // a sentence: how to take the photo
}

// A Reason is a kind of refusal, by which messages and counts may be told apart.
type Reason string

const (
	NothingFound Reason = "nothing found" // no plant where one was expected
	CutOff       Reason = "cut off"       // the plant reaches the edge of the picture
	Overlapping  Reason = "overlapping"   // it has grown together with another
	TooSmall     Reason = "too small"     // fewer pixels than can be measured
	BadPicture   Reason = "bad picture"   // sizes that do not fit, no light, no numbers
	ColourCast   Reason = "colour cast"   // leaf and background have one colour under this light
)

// Error says it in two sentences.
func (r *Refusal) Error() string { return r.Because + " " + r.Advice }
