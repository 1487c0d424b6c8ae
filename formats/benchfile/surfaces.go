package benchfile

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"underlamp"
	"underlamp/formats/handwritten"
	"underlamp/science/quantity"
)

// A Surface is a class of wall with its reflectance between 400 and 700 nm: a
// usual value and the range that the class spans with age and dirt. Mirror is
// the part of what comes back that leaves as from a mirror; the rest is
// scattered evenly. That foil mirrors and that bright polyester film lies between
// mirror and paint is in the abstract of Janecek2008; the parts themselves are
// assumed, no source.
type Surface struct {
	Name             string
	Low, Usual, High quantity.Fraction
	Mirror           quantity.Fraction
	Source           string
}

// Surfaces lists the classes that a bench file may name, the brightest first.
func Surfaces() []Surface {
	return []Surface{
		{Name: "white paint", Low: 0.60, Usual: 0.80, High: 0.90,
			Source: "from memory: matt white 0.80 to 0.90, less by dirt"},
		{Name: "white film", Low: 0.70, Usual: 0.78, High: 0.85,
			Source: "from memory: opaque white film"},
		{Name: "aluminium foil", Low: 0.60, Usual: 0.75, High: 0.87, Mirror: 0.8,
			Source: "a statement on foil as ground cover, paper not identified; evaporated aluminium 0.866 in open spectra is the upper end"},
		{Name: "metallised film", Low: 0.50, Usual: 0.60, High: 0.92, Mirror: 0.6,
			Source: "a statement on film as ground cover, paper not identified; upper end from memory: clean polyester 0.85 to 0.92"},
		{Name: "stainless steel", Low: 0.50, Usual: 0.60, High: 0.65, Mirror: 0.6,
			Source: "Meerdink2019, polished: 0.603; range from memory"},
		{Name: "thin film", Low: 0.20, Usual: 0.35, High: 0.48,
			Source: "a statement on film as ground cover, paper not identified; Ham1993: at most 0.48 among eight films"},
		{Name: "concrete", Low: 0.20, Usual: 0.32, High: 0.45,
			Source: "Meerdink2019: 0.323 from 420 nm; range from memory"},
		{Name: "closed canopy", Low: 0.05, Usual: 0.06, High: 0.08,
			Source: "Meerdink2019: grass 0.062, deciduous leaves 0.069; lettuce by analogy"},
		{Name: "bare soil", Low: 0.03, Usual: 0.05, High: 0.15,
			Source: "Meerdink2019, black loam: 0.051; range from memory"},
	}
}

// surfacesAlso are other words for the surfaces.
var surfacesAlso = map[string]string{
	"white": "white paint", "foil": "aluminium foil", "aluminum foil": "aluminium foil", "metallized film": "metallised film",
	"metalised film": "metallised film", "steel": "stainless steel", "soil": "bare soil", "canopy": "closed canopy",
	"lettuce": "closed canopy", "white plastic": "white film",
}

const (
	// A stated percentage is seldom measured: ±0.10 is common practice, no source.
	doubtOfStated = 0.10

	// What lies between the plants and the underside of what stands above are
	// unknown mixtures; common practice, no source.
	usualBelow, lowBelow, highBelow = 0.30, 0.10, 0.50
	usualAbove, lowAbove, highAbove = 0.50, 0.20, 0.80
)

// usualWall is the wall that nobody described.
func usualWall(s underlamp.Side) underlamp.Wall {
	switch s {
	case underlamp.Below:
		return underlamp.Wall{Reflectance: underlamp.Assumed[quantity.Fraction](usualBelow, "a tank or tray with leaves over part of it; common practice, no source"), Low: lowBelow, High: highBelow}
	case underlamp.Above:
		return underlamp.Wall{Reflectance: underlamp.Assumed[quantity.Fraction](usualAbove, "a ceiling or the underside of a shelf; common practice, no source"), Low: lowAbove, High: highAbove}
	}
	return underlamp.Wall{Open: true, Reflectance: underlamp.Assumed[quantity.Fraction](0, "a side that is not described is taken as open: no light comes back")}
}

// walls reads the six sides.
func (r *reader) walls(v handwritten.Value) [6]underlamp.Wall {
	var out [6]underlamp.Wall
	f, _ := r.Mapping(v, "walls")
	for _, s := range underlamp.Sides() {
		out[s] = usualWall(s)
		if w := f.Get(s.String()); w.Written() {
			out[s] = r.wall(w, out[s])
		}
	}
	return out
}

// mirrorNote says where the mirror-like part of a surface comes from.
func mirrorNote(s Surface) string {
	if s.Mirror == 0 {
		return "matt: all of it is scattered"
	}
	return fmt.Sprintf("%.0f %% of what %s sends back; Janecek2008 says which surfaces mirror, not how much", 100*float64(s.Mirror), s.Name)
}

// parts reads a wall by its two parts: {diffuse: 30 %, mirror: 50 %}.
func (r *reader) parts(v handwritten.Value, usual underlamp.Wall) underlamp.Wall {
	f, ok := r.Mapping(v, "walls.side")
	if !ok {
		return usual
	}
	diffuse, _ := r.Amount(f.Get("diffuse"), quantity.Share, reflection)
	mirror, _ := r.Amount(f.Get("mirror"), quantity.Share, reflection)
	total := diffuse + mirror
	if total > 1+handwritten.Slack {
		r.Errorf(v, "at most 100 % together", "the two parts make %s", r.Show(quantity.Share, total))
		return usual
	}
	total = reflection.Clamp(total)
	origin, _ := r.Origin(f.Get("from"))
	note, _ := r.Words(f.Get("note"), handwritten.MaxNote)
	return underlamp.Wall{
		Reflectance: underlamp.Given[quantity.Fraction]{Value: quantity.Fraction(total), Origin: origin, Note: note},
		Mirror:      underlamp.Given[quantity.Fraction]{Value: quantity.Fraction(math.Min(mirror, total)), Origin: origin, Note: note},
		Low:         quantity.Fraction(reflection.Clamp(total - doubtOfStated)), High: quantity.Fraction(reflection.Clamp(total + doubtOfStated)),
	}
}

func (r *reader) wall(v handwritten.Value, usual underlamp.Wall) underlamp.Wall {
	if v.HasKey("diffuse", "mirror") {
		return r.parts(v, usual)
	}
	inner, origin, note, ok := r.Said(v)
	if !ok {
		return usual
	}
	want := "open, a share such as 80 %, or one of " + strings.Join(surfaceNames(), ", ")
	r.Takes(inner, handwritten.Form{Is: handwritten.WordForm, Words: append([]string{"open"}, surfaceNames()...), Also: slices.Sorted(maps.Keys(surfacesAlso))})
	r.Takes(inner, handwritten.Form{Is: handwritten.RangeForm, Kind: quantity.Share, Span: handwritten.Span{Min: 0, Max: 1}})
	text, ok := r.Raw(inner, want)
	if !ok {
		return usual
	}
	word := handwritten.Normal(text)
	if word == "open" {
		return underlamp.Wall{Open: true, Reflectance: underlamp.Given[quantity.Fraction]{Origin: origin, Note: note}}
	}
	if also, found := surfacesAlso[word]; found {
		word = also
	}
	for _, s := range Surfaces() {
		if s.Name != word {
			continue
		}
		// The person said what the wall is made of, not how much it reflects.
		return underlamp.Wall{Surface: s.Name, Low: s.Low, High: s.High,
			Reflectance: underlamp.Assumed(s.Usual, "the usual value of "+s.Name+": "+s.Source),
			Mirror:      underlamp.Assumed(s.Usual*s.Mirror, mirrorNote(s))}
	}
	if word == "" || !strings.ContainsAny(word[:1], "0123456789.,+-−") {
		r.Add(inner.At, Problem{Path: inner.Path, Message: fmt.Sprintf("the surface %q is not known here", handwritten.Shortened(text)), Want: want,
			Suggest: handwritten.Nearest(word, append(surfaceNames(), "open"))})
		return usual
	}
	low, high, ok := r.RangeOf(inner, quantity.Share, handwritten.Span{Min: 0, Max: 1})
	if !ok {
		return usual
	}
	w := underlamp.Wall{Low: quantity.Fraction(low), High: quantity.Fraction(high),
		Reflectance: underlamp.Given[quantity.Fraction]{Value: quantity.Fraction((low + high) / 2), Origin: origin, Note: note}}
	if low == high {
		s := handwritten.Span{Min: 0, Max: 1}
		w.Low, w.High = quantity.Fraction(s.Clamp(low-doubtOfStated)), quantity.Fraction(s.Clamp(high+doubtOfStated))
	}
	return w
}

func surfaceNames() []string {
	var out []string
	for _, s := range Surfaces() {
		out = append(out, s.Name)
	}
	return out
}
