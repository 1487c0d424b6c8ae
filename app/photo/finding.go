package photo

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"time"

	"underlamp/science/plantfigure"
	"underlamp/science/plantlabel"
)

// docVersion is that of the document that keeps a finding.
const docVersion = 1

// What a figure is of.
type Quantity string

// The quantities, with their units.
const (
	Area       Quantity = "area"        // cm², leaves seen from above
	Width      Quantity = "width"       // cm, the greatest across the crown
	Narrow     Quantity = "narrow"      // cm, the least
	Height     Quantity = "height"      // cm, from the side
	Stretch    Quantity = "stretch"     // height over width
	Roundness  Quantity = "roundness"   // 1 a disc
	Solidity   Quantity = "solidity"    // area over that of its hull
	Plants     Quantity = "plants"      // separate plants within the crown
	Greenness  Quantity = "greenness"   // dark green colour index, 0 to 1
	Yellow     Quantity = "yellow"      // share of leaf area
	Red        Quantity = "red"         // share of leaf area
	BrownInner Quantity = "brown inner" // share of the inner zone that looks burnt
	BrownOuter Quantity = "brown outer" // share of the outer zone
)

// Unit of a quantity; empty for numbers and shares.
func (q Quantity) Unit() string {
	switch q {
	case Area:
		return "cm²"
	case Width, Narrow, Height:
		return "cm"
	}
	return ""
}

// Quantities lists them in the order in which people read them.
func Quantities() []Quantity {
	return []Quantity{Area, Width, Narrow, Height, Stretch, Roundness, Solidity, Plants, Greenness, Yellow, Red, BrownInner, BrownOuter}
}

// A Figure is one figure of a plant.
type Figure struct {
	What  Quantity `json:"what"`
	Value float64  `json:"value"`
	SD    float64  `json:"sd"`
	Parts []Cause  `json:"parts,omitempty"` // of the SD; their squares add up to its square
}

// A Cause is what one cause alone would spread a figure.
type Cause struct {
	Cause string  `json:"cause"`
	SD    float64 `json:"sd"`
}

// A Refusal is why something was not measured, and how to take the photo.
type Refusal struct {
	Reason  string `json:"reason"`
	Because string `json:"because"`
	Advice  string `json:"advice"`
}

// Text is both sentences.
func (r Refusal) Text() string {
	if r.Advice == "" {
		return r.Because
	}
	return r.Because + " " + r.Advice
}

// A Spot is a candidate of burn.
type Spot struct {
	ID     string               `json:"id"` // within the finding
	X      float64              `json:"x"`  // its centre in the photo, as a share of its width
	Y      float64              `json:"y"`
	Radius float64              `json:"radius"` // a circle that holds it, as a share of the width too
	Area   float64              `json:"area_mm2"`
	Inner  bool                 `json:"inner,omitempty"`
	Seen   plantfigure.Features `json:"seen"`
}

// A Read is what was read beside one label.
type Read struct {
	Code    plantlabel.Code `json:"code"`
	Label   string          `json:"label"` // its layout
	Side    bool            `json:"side,omitempty"`
	Figures []Figure        `json:"figures,omitempty"`
	Spots   []Spot          `json:"spots,omitempty"`
	Refused *Refusal        `json:"refused,omitempty"`
	Doubts  []string        `json:"doubts,omitempty"`

	Tilt       float64 `json:"tilt_deg,omitempty"`  // of the camera against the label
	HeightCM   float64 `json:"height_cm,omitempty"` // of the leaves above the label, as it was corrected for; 0: was not
	Picture    string  `json:"picture,omitempty"`   // name of the plant's own picture, at one scale and exposure
	MMPerPixel float64 `json:"mm_per_pixel,omitempty"`
	Corrected  bool    `json:"corrected,omitempty"` // colours by the patches of the label
}

// Figure is one of the figures.
func (r *Read) Figure(q Quantity) (Figure, bool) {
	i := slices.IndexFunc(r.Figures, func(f Figure) bool { return f.What == q })
	if i < 0 {
		return Figure{}, false
	}
	return r.Figures[i], true
}

// A Finding is what one photo told to one method.
type Finding struct {
	Method string    `json:"method"`
	SHA256 string    `json:"sha256"` // of the original
	Taken  time.Time `json:"taken,omitzero"`
	From   string    `json:"taken_from,omitempty"` // where Taken comes from
	Width  int       `json:"width"`                // upright
	Height int       `json:"height"`
	Reads  []Read    `json:"reads,omitempty"`

	Refused *Refusal `json:"refused,omitempty"` // of the whole photo
	Notes   []string `json:"notes,omitempty"`
	Millis  int64    `json:"millis,omitempty"` // it took
}

type findingDoc struct {
	Version int `json:"underlamp photo figures"`
	Finding
}

// JSON is the document of a finding.
func (f *Finding) JSON() ([]byte, error) { return json.Marshal(findingDoc{docVersion, *f}) }

// mostDoc bounds a document; mostReads and mostSpots what stands in it.
const (
	mostDoc   = 4 << 20
	mostReads = 200
	mostSpots = 2000
)

var validPicture = regexp.MustCompile(`^[a-z0-9A-Z-]{1,40}$`)

// ReadFinding reads the document of a finding. One of a later version is refused.
func ReadFinding(raw []byte) (*Finding, error) {
	if len(raw) > mostDoc {
		return nil, fmt.Errorf("the figures of a photo have %d MB; at most %d are read", len(raw)>>20, mostDoc>>20)
	}
	var d findingDoc
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&d); err != nil {
		return nil, fmt.Errorf("these are no figures of a photo: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, errors.New("something follows the figures of the photo")
	}
	switch {
	case d.Version != docVersion:
		return nil, fmt.Errorf("the figures of the photo are of version %d, this program reads %d", d.Version, docVersion)
	case len(d.Reads) > mostReads:
		return nil, fmt.Errorf("the photo has more than %d labels", mostReads)
	}
	for i := range d.Reads {
		r := &d.Reads[i]
		if c, err := plantlabel.ParseCode(string(r.Code)); err != nil || c != r.Code {
			return nil, fmt.Errorf("label %d has no code", i+1)
		}
		if len(r.Spots) > mostSpots || r.Picture != "" && !validPicture.MatchString(r.Picture) {
			return nil, fmt.Errorf("label %s has too many spots, or a picture of no name", r.Code)
		}
		for _, f := range r.Figures {
			if !slices.Contains(Quantities(), f.What) || math.IsNaN(f.Value) || math.Abs(f.Value) > 1e9 || !(f.SD >= 0) || f.SD > 1e9 {
				return nil, fmt.Errorf("label %s has a figure %q that cannot be", r.Code, f.What)
			}
		}
	}
	return &d.Finding, nil
}

// figure makes one of a value; those that are no numbers are not told.
func figure(q Quantity, v plantfigure.Value, scale float64) (Figure, bool) {
	if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || math.IsNaN(v.SD) || math.IsInf(v.SD, 0) {
		return Figure{}, false
	}
	f := Figure{What: q, Value: v.Value * scale, SD: v.SD * scale}
	for _, p := range v.Parts {
		f.Parts = append(f.Parts, Cause{p.Cause, p.SD * scale})
	}
	return f, true
}

// figures are collected one by one.
type figures []Figure

// add takes a value in, unless there is none.
func (all *figures) add(q Quantity, v plantfigure.Value, scale float64) {
	if f, ok := figure(q, v, scale); ok {
		*all = append(*all, f)
	}
}

// topFigures are those of a view from above.
func topFigures(t *plantfigure.Top) []Figure {
	var out figures
	out.add(Area, t.Area, 1)
	out.add(Width, t.Width, 0.1)
	out.add(Narrow, t.Narrow, 0.1)
	out.add(Roundness, t.Roundness, 1)
	out.add(Solidity, t.Solidity, 1)
	out = append(out, Figure{What: Plants, Value: float64(t.Plants)})
	out.add(Greenness, t.Greenness, 1)
	out.add(Yellow, t.Yellow, 1)
	out.add(Red, t.Red, 1)
	out.add(BrownInner, t.BrownInner, 1)
	out.add(BrownOuter, t.BrownOuter, 1)
	return out
}

// sideFigures are those of a view from the side.
func sideFigures(s *plantfigure.Side) []Figure {
	var out figures
	out.add(Height, s.Height, 0.1)
	out.add(Width, s.Width, 0.1)
	out.add(Stretch, s.Stretch, 1)
	out.add(Yellow, s.Yellow, 1)
	out.add(Red, s.Red, 1)
	return out
}
