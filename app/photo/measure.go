package photo

import (
	"fmt"
	"image"
	"math"
	"slices"
	"time"

	"underlamp/formats/photofile"
	"underlamp/science/labelfind"
	"underlamp/science/plantfigure"
	"underlamp/science/plantlabel"
	"underlamp/science/plantphoto"
	"underlamp/store"
)

// Tall is how high leaves stand above a label, cm.
type Tall struct{ CM, SD float64 }

// Method is what reads photos now, with its version: figures by another are read anew.
var Method = fmt.Sprintf("plantphoto %d", plantphoto.Version)

// mostPixels is what is measured at once: a photo with more is made smaller by whole
// pixels. Twelve megapixels show a leaf of 1 mm from a metre away.
const mostPixels = 16_500_000

// An Ask is what is known of a photo before it is looked at.
type Ask struct {
	Zone *time.Location // of cameras that do not say theirs; nil: that of this machine

	Else     time.Time // when it was taken, if the photo does not say
	ElseFrom string    // where that comes from

	Side bool // it was taken from the side; otherwise from above
	One  bool // a person says that what looks like two plants is one

	// Heights are how high the leaves of plants stand above their labels at a time, for those
	// that are known. nil: nobody knows.
	Heights func(at time.Time) map[plantlabel.Code]Tall
}

// Measure reads a photo: whose labels are in it, and how large the plants beside them are.
// The error is that of [photofile.Check]; what cannot be measured in a photo is a refusal
// in its finding. The pictures are the overlay and one of each plant at one scale and one
// exposure, without a word of where they were taken.
func Measure(data []byte, ask Ask) (*Finding, []store.NamedPicture, error) {
	begin := time.Now()
	p, err := photofile.Decode(data, mostPixels)
	if err != nil {
		return nil, nil, err
	}
	w, h := p.Upright()
	f := &Finding{Method: Method, SHA256: p.SHA256, Width: w, Height: h, Notes: p.Notes}
	zone := ask.Zone
	if zone == nil {
		zone = time.Local
	}
	if at, ok := p.Shot.Taken(zone); ok {
		f.Taken, f.From = at, "camera"
		if p.Shot.Offset == nil {
			f.From = "camera, its zone assumed"
		}
	} else if !ask.Else.IsZero() {
		f.Taken, f.From = ask.Else.UTC(), ask.ElseFrom
	}
	made, err := f.look(p, ask)
	f.Millis = time.Since(begin).Milliseconds()
	return f, made, err
}

// Identify tells which labels are in a photo, and nothing of its plants.
func Identify(data []byte) ([]plantlabel.Code, *Refusal, error) {
	p, err := photofile.Decode(data, mostPixels)
	if err != nil {
		return nil, nil, err
	}
	found := labelfind.Find(p.Image, labelfind.Options{Focal: p.Shot.Focal35})
	var out []plantlabel.Code
	for _, l := range found.Labels {
		out = append(out, l.Code)
	}
	if found.None != nil {
		return nil, &Refusal{string(found.None.Reason), found.None.Because, found.None.Advice}, nil
	}
	return out, nil, nil
}

// look measures the plants of a picture.
func (f *Finding) look(p *photofile.Picture, ask Ask) ([]store.NamedPicture, error) {
	o := plantphoto.Options{Options: labelfind.Options{Focal: p.Shot.Focal35}, Keep: true, One: ask.One, Heights: heights(ask, f.Taken)}
	if ask.Side {
		o.View = plantfigure.FromSide
	}
	found := plantphoto.Measure(p.Image, o)
	if found.None != nil {
		f.Refused = &Refusal{found.None.Reason, found.None.Because, found.None.Advice}
		return nil, nil
	}
	for _, s := range found.Sightings {
		f.Notes = append(f.Notes, s.Refused.Because)
	}
	b := p.Image.Bounds()
	var made []store.NamedPicture
	for i := range found.Plants {
		x := &found.Plants[i]
		r := Read{Code: x.Label.Code, Label: x.Label.Layout.Name, Side: ask.Side, Tilt: math.Round(x.Label.Tilt*1800/math.Pi) / 10, Doubts: x.Doubts, Corrected: x.Label.Light.Coloured}
		switch {
		case x.Refused != nil:
			r.Refused = &Refusal{x.Refused.Reason, x.Refused.Because, x.Refused.Advice}
		case x.Top != nil:
			r.Figures = topFigures(x.Top)
			if x.HeightUsed {
				r.HeightCM = x.Level / 5 // the plane lies at half the height
			}
			r.Spots = spots(x, b)
		case x.Side != nil:
			r.Figures = sideFigures(x.Side)
		}
		if x.Top != nil && x.Picture != nil {
			data, err := portrait(x.Picture, x.Top)
			if err != nil {
				return nil, err
			}
			if !slices.ContainsFunc(made, func(m store.NamedPicture) bool { return m.Name == string(r.Code) }) {
				r.Picture, r.MMPerPixel = string(r.Code), portraitScale
				made = append(made, store.NamedPicture{Name: r.Picture, Data: data})
			}
		}
		f.Reads = append(f.Reads, r)
	}
	data, err := overlay(p.Image, found.Plants)
	if err != nil {
		return nil, err
	}
	return append(made, store.NamedPicture{Name: Overlay, Data: data}), nil
}

// heights asks for the height of every plant that somebody measured.
func heights(ask Ask, at time.Time) map[plantlabel.Code]plantphoto.Height {
	if ask.Heights == nil {
		return nil
	}
	out := map[plantlabel.Code]plantphoto.Height{}
	for c, h := range ask.Heights(at) {
		if h.CM > 0 {
			out[c] = plantphoto.Height{Value: 10 * h.CM, SD: 10 * h.SD}
		}
	}
	return out
}

// spots are the candidates of burn of a plant, most likely first. A spot is called by its
// label and place, so that a verdict finds it again when the method has changed a little.
func spots(x *plantphoto.Plant, b image.Rectangle) []Spot {
	var out []Spot
	known := map[string]bool{}
	for _, s := range x.Top.Spots {
		at := x.InPhoto(plantfigure.Ring{s.At})[0]
		q := Spot{X: round3(at.X / float64(b.Dx())), Y: round3(at.Y / float64(b.Dx())), Area: s.Area, Inner: s.Inner, Seen: s.Seen}
		q.ID = fmt.Sprintf("%s-%.0f-%.0f", x.Label.Code, 1000*q.X, 1000*q.Y)
		for _, p := range x.InPhoto(s.Outline) {
			q.Radius = max(q.Radius, math.Hypot(p.X-at.X, p.Y-at.Y)/float64(b.Dx()))
		}
		q.Radius = round3(q.Radius)
		if !known[q.ID] && len(out) < mostSpots {
			known[q.ID] = true
			out = append(out, q)
		}
	}
	return out
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
