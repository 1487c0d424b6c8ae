package photo

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"time"

	"underlamp"
	"underlamp/app/round"
	"underlamp/formats/photofile"
	"underlamp/science/plantlabel"
	"underlamp/store"
)

// Overlay is the name of the picture that shows what was seen as plant.
const Overlay = "overlay"

// A Doc is what is kept beside a picture.
type Doc struct {
	Version int    `json:"underlamp photo"`
	Phone   string `json:"phone,omitempty"`
	SHA256  string `json:"sha256"`
	Width   int    `json:"width"`
	Height  int    `json:"height"`
	File    string `json:"file,omitempty"` // it was called so in the folder that it came from
}

// JSON is the document.
func (d Doc) JSON() []byte {
	d.Version = 1
	out, err := json.Marshal(d)
	if err != nil {
		panic("photo: " + err.Error()) // texts and numbers
	}
	return out
}

// ReadDoc reads what is kept beside a picture.
func ReadDoc(raw []byte) (d Doc, err error) { return d, json.Unmarshal(raw, &d) }

// Photo is a photo that came from a folder, as the store keeps it. Its id is made of its
// bytes: the same photo is kept once.
func Photo(bench string, data []byte, info photofile.Info, taken, now time.Time, file string) store.Photo {
	if taken.IsZero() {
		taken = now
	}
	return store.Photo{ID: info.SHA256[:32], Bench: bench, At: store.At(taken), Recorded: store.At(now), Media: info.Media, Doc: Doc{SHA256: info.SHA256, Width: info.Width, Height: info.Height, File: file}.JSON()}
}

// Put keeps a photo. One whose bytes are known stays as it was first kept, with the bench
// and the time of then.
func Put(ctx context.Context, s store.Photos, p store.Photo, data []byte) error {
	err := s.PutPhoto(ctx, p, data)
	if errors.Is(err, store.ErrDiffers) {
		if _, old, found := s.Photo(ctx, p.ID); found == nil && bytes.Equal(old, data) {
			return nil
		}
	}
	return err
}

// Keeper is what is asked of a store.
type Keeper interface {
	store.Photos
	store.Measures
}

// Gather reads what a store keeps of the photos of a bench, and what rounds say of them: who
// is on them, when they were taken, which were taken out, and what was weighed.
func Gather(ctx context.Context, s Keeper, id string, b *underlamp.Bench, rec *round.Record) (Kept, error) {
	k := Kept{Named: map[string]string{}, When: map[string]time.Time{}}
	var err error
	if k.Photos, err = s.Photos(ctx, id, 0, math.MaxInt64); err != nil {
		return k, err
	}
	if k.Measures, err = s.Measures(ctx, id); err != nil {
		return k, err
	}
	if k.Verdicts, err = s.Verdicts(ctx, ""); err != nil {
		return k, err
	}
	k.Verdicts = OfCultivar(k.Verdicts, b.Crop.Cultivar)
	if rec == nil {
		return k, nil
	}
	gone := map[string]bool{}
	for _, e := range rec.All {
		if e.What == round.Photo && e.Struck {
			if was, ok := rec.Find(e.Corrects); ok {
				gone[was.Photo] = true
			}
		}
	}
	for _, e := range rec.Standing() {
		switch {
		case e.What == round.Photo:
			k.Named[e.Photo], k.When[e.Photo] = e.Plant, rec.When(&e)
		case e.What == underlamp.ResponseMass && e.Missing == "":
			k.Weighed = append(k.Weighed, Weighed{Plant: e.Plant, At: rec.When(&e), Grams: e.Value})
		}
	}
	k.Photos = slices.DeleteFunc(k.Photos, func(p store.Photo) bool { return gone[p.ID] && k.Named[p.ID] == "" })
	return k, nil
}

// HeightsOf are the heights of the plants of a bench that rounds measured within three days of a
// photo, for [Ask].
func HeightsOf(rec *round.Record, bench string, register Register) func(at time.Time) map[plantlabel.Code]Tall {
	return func(at time.Time) map[plantlabel.Code]Tall {
		best := map[string]round.Entry{}
		for _, e := range rec.Standing() {
			if e.What != underlamp.ResponseHeight || e.Missing != "" || rec.When(&e).Sub(at).Abs() > 3*24*time.Hour {
				continue
			}
			if old, ok := best[e.Plant]; !ok || rec.When(&e).Sub(at).Abs() < rec.When(&old).Sub(at).Abs() {
				best[e.Plant] = e
			}
		}
		out := map[plantlabel.Code]Tall{}
		for c, x := range register {
			if e, ok := best[x.Plant]; ok && x.Bench == bench {
				out[c] = Tall{CM: e.Value, SD: 0.5 + 0.05*e.Value} // a rule held to leaves; common practice, no source
			}
		}
		return out
	}
}
