package photo

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"image"
	"image/draw"
	"image/jpeg"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"underlamp/app/round"
	"underlamp/formats/photofile"
	"underlamp/science/plantlabel"
	"underlamp/science/quantity"
	"underlamp/store"
)

// A Fault is why a photo or a verdict is not taken, as a sentence without its end.
type Fault struct {
	Text  string
	Other bool // another one is kept under its id
}

// Error is the sentence.
func (f *Fault) Error() string { return f.Text }

// Receive keeps a picture that came under an id, as its bytes are; the same one twice is kept
// once. A [*Fault] says what is wrong with it. When it was taken stands in the entry of the
// rounds that names it: here it is when it came.
func Receive(ctx context.Context, s store.Photos, bench, id, phone string, data []byte, now time.Time) error {
	if !round.ValidID(id) || !round.ValidID(phone) {
		return &Fault{Text: "the picture or the phone has no id"}
	}
	info, err := photofile.Check(data)
	if err != nil {
		return &Fault{Text: err.Error()}
	}
	doc := Doc{Phone: phone, SHA256: info.SHA256, Width: info.Width, Height: info.Height}.JSON()
	err = s.PutPhoto(ctx, store.Photo{ID: id, Bench: bench, At: store.At(now), Recorded: store.At(now), Media: info.Media, Doc: doc}, data)
	if errors.Is(err, store.ErrDiffers) {
		was, old, found := s.Photo(ctx, id)
		switch {
		case found == nil && was.Bench == bench && bytes.Equal(old, data):
			return nil // sent again
		case found == nil:
			return &Fault{"another picture is kept under this id", true}
		}
	}
	return err
}

// A State says how the reading of a photo stands.
type State string

// The states.
const (
	Waiting  State = "waiting"  // not read yet
	Measured State = "measured" // figures were read of one plant at least
	Refused  State = "refused"  // none could be
)

// State is how the reading of a photo of the book stands; one that has not come waits.
func (b *Book) State(id string) State {
	t, ok := b.Shot(id)
	switch {
	case !ok || t.Finding == nil:
		return Waiting
	case t.Finding.Refused != nil:
		return Refused
	case slices.ContainsFunc(b.Of(id), func(l Look) bool { return l.Refused == nil }):
		return Measured
	}
	return Refused
}

// Says tells in sentences what was read in a photo; empty while it waits.
func (b *Book) Says(id string) string {
	t, ok := b.Shot(id)
	if !ok || t.Finding == nil {
		return ""
	}
	if t.Finding.Refused != nil {
		return t.Finding.Refused.Text()
	}
	var parts []string
	for _, l := range b.Of(id) {
		name := cmp.Or(l.Subject.Plant, l.Subject.Unit, l.Code.Readable())
		if l.Refused != nil {
			parts = append(parts, name+" was not measured. "+l.Refused.Text())
			continue
		}
		var figures []string
		for _, q := range []Quantity{Area, Width, Height} {
			if f, ok := l.Figure(q); ok {
				figures = append(figures, f.Text())
			}
		}
		if l.Brown != nil && l.Brown.Open > 0 {
			figures = append(figures, "spots to be looked at "+strconv.Itoa(l.Brown.Open))
		}
		parts = append(parts, name+": "+strings.Join(figures, ", ")+".")
	}
	return strings.Join(parts, " ")
}

// Text is the figure with its spread and unit.
func (f Figure) Text() string {
	if f.SD == 0 {
		return strings.TrimSpace(quantity.Number(f.Value, 3) + " " + f.What.Unit())
	}
	return strings.TrimSpace(quantity.Number(f.Value, 3) + " ± " + quantity.Number(f.SD, 2) + " " + f.What.Unit())
}

// Say keeps what a person says of a spot of a photo of the book. An error is a [*Fault], that
// of the store, or [store.ErrNotFound] where the photo has no such spot. Sent again it is no
// error.
func (b *Book) Say(ctx context.Context, s store.Measures, v Verdict) error {
	v.By = strings.TrimSpace(v.By)
	if !round.ValidID(v.ID) {
		return &Fault{Text: "the verdict has no id of 8 to 64 letters, digits, - or _"}
	}
	if v.By == "" || len(v.By) > round.MaxName {
		return &Fault{Text: "write who says so, in one line"}
	}
	for _, l := range b.Of(v.Photo) {
		for _, p := range l.Spots {
			if p.ID != v.Spot {
				continue
			}
			v.Seen = p.Seen
			k, err := v.Kept()
			if err == nil {
				err = s.PutVerdict(ctx, k)
			}
			if errors.Is(err, store.ErrDiffers) { // the time of it is another
				return nil
			}
			return err
		}
	}
	return store.ErrNotFound
}

// Made is a picture that was made of a photo of a bench: by the method that counts, or by the
// last one that read it. [store.ErrNotFound] where there is none.
func Made(ctx context.Context, s Keeper, bench, id, name string) ([]byte, error) {
	p, _, err := s.Photo(ctx, id)
	if err != nil {
		return nil, err
	}
	if p.Bench != bench {
		return nil, store.ErrNotFound
	}
	data, err := s.MeasurePicture(ctx, id, Method, name)
	if !errors.Is(err, store.ErrNotFound) {
		return data, err
	}
	all, err := s.Measures(ctx, bench) // not read by the present method yet
	if err != nil {
		return nil, err
	}
	for _, m := range slices.Backward(all) {
		if m.Photo == id {
			return s.MeasurePicture(ctx, id, m.Method, name)
		}
	}
	return nil, store.ErrNotFound
}

// MadeSpot is a spot with its surroundings, cut out of the overlay of its photo.
func MadeSpot(ctx context.Context, s Keeper, bench, id, spot string) ([]byte, error) {
	overlay, err := Made(ctx, s, bench, id, Overlay)
	if err != nil {
		return nil, err
	}
	all, err := s.Measures(ctx, bench)
	if err != nil {
		return nil, err
	}
	for _, m := range slices.Backward(all) {
		if m.Photo != id {
			continue
		}
		f, err := ReadFinding(m.Doc)
		if err != nil {
			return nil, err
		}
		for _, r := range f.Reads {
			for _, p := range r.Spots {
				if p.ID == spot {
					return cutSpot(overlay, p)
				}
			}
		}
	}
	return nil, store.ErrNotFound
}

func cutSpot(overlay []byte, p Spot) ([]byte, error) {
	whole, err := jpeg.Decode(bytes.NewReader(overlay))
	if err != nil {
		return nil, err
	}
	b := whole.Bounds()
	width := float64(b.Dx())
	half := int(max(3*p.Radius*width, 40))
	at := image.Pt(int(p.X*width), int(p.Y*width))
	box := image.Rect(at.X-half, at.Y-half, at.X+half, at.Y+half).Intersect(b)
	if box.Empty() {
		return nil, store.ErrNotFound
	}
	out := image.NewRGBA(image.Rect(0, 0, box.Dx(), box.Dy()))
	draw.Draw(out, out.Rect, whole, box.Min, draw.Src)
	var buf bytes.Buffer
	err = jpeg.Encode(&buf, out, &jpeg.Options{Quality: 88})
	return buf.Bytes(), err
}

// mostStrip bounds the rows of a strip of a bench.
const mostStrip = 12

// Strip lays out plants of the book with their pictures, all that were measured if none is
// named, twelve at most.
func (b *Book) Strip(ctx context.Context, s store.Measures, title string, plants []string, zone *time.Location) (*Strip, error) {
	if len(plants) == 0 {
		plants = b.Plants()
	}
	return LoadStrip(ctx, s, title, b.Looks(""), plants, zone)
}

// LoadStrip lays out looks at plants, with their pictures from a store.
func LoadStrip(ctx context.Context, s store.Measures, title string, looks []Look, plants []string, zone *time.Location) (*Strip, error) {
	strip, err := StripOf(title, looks, plants[:min(len(plants), mostStrip)], zone)
	if err != nil {
		return nil, err
	}
	strip.Load(func(l *Look) (image.Image, error) {
		data, err := s.MeasurePicture(ctx, l.Shot.ID, l.Shot.Finding.Method, l.Picture)
		if err != nil {
			return nil, err
		}
		return jpeg.Decode(bytes.NewReader(data))
	})
	return strip, nil
}

// WriteCSV writes the figures of all photos of the book as a table.
func (b *Book) WriteCSV(w io.Writer, register Register, zone *time.Location) error {
	t := NewTable(w, zone)
	for _, x := range b.Shots {
		if x.Finding != nil {
			f := *x.Finding
			f.Taken = x.Taken
			t.Add(x.ID, &f, "", register)
		}
	}
	return t.Flush()
}

// PlantOf is the plant of a bench that one of the codes stands for; otherwise why says what the
// codes are of.
func (r Register) PlantOf(bench string, codes ...plantlabel.Code) (plant string, code plantlabel.Code, why string) {
	why = "the label is of no plant that is known here"
	for _, c := range codes {
		x, ok := r[c]
		switch {
		case ok && x.Bench == bench && x.Plant != "":
			return x.Plant, c, ""
		case ok && x.Bench != "":
			why = "the label is of plant " + x.Plant + " on " + x.Bench
		case ok:
			why = "the label is of " + x.Unit + " in the trial " + x.Trial
		}
	}
	return "", "", why
}
