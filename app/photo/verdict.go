package photo

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"underlamp/science/plantfigure"
	"underlamp/store"
)

// A Verdict is what a person says of a candidate of burn.
type Verdict struct {
	ID, Photo, By string
	Recorded      time.Time

	Spot     string // id of the spot
	Burnt    bool
	Cultivar string               // of the bench then; empty: not known
	Seen     plantfigure.Features // of the spot, so that the verdict teaches after the method has changed
}

type verdictDoc struct {
	Version  int                  `json:"underlamp verdict"`
	Spot     string               `json:"spot"`
	Burnt    bool                 `json:"burnt"`
	Cultivar string               `json:"cultivar,omitempty"`
	Seen     plantfigure.Features `json:"seen"`
}

// Kept is the verdict as the store keeps it.
func (v *Verdict) Kept() (store.Verdict, error) {
	doc, err := json.Marshal(verdictDoc{1, v.Spot, v.Burnt, v.Cultivar, v.Seen})
	return store.Verdict{ID: v.ID, Photo: v.Photo, Recorded: store.At(v.Recorded), By: v.By, Doc: doc}, err
}

// ReadVerdict makes a verdict of what the store has.
func ReadVerdict(k store.Verdict) (Verdict, error) {
	var d verdictDoc
	dec := json.NewDecoder(bytes.NewReader(k.Doc))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&d); err != nil || d.Version != 1 {
		return Verdict{}, fmt.Errorf("verdict %q cannot be read: %v", k.ID, err)
	}
	return Verdict{ID: k.ID, Photo: k.Photo, By: k.By, Recorded: store.Time(k.Recorded), Spot: d.Spot, Burnt: d.Burnt, Cultivar: d.Cultivar, Seen: d.Seen}, nil
}

// OfCultivar are the verdicts that teach about a cultivar: those on its own photos; all, if
// the cultivar is not known. Of a spot the last verdict counts.
func OfCultivar(all []store.Verdict, cultivar string) []store.Verdict {
	var out []store.Verdict
	for _, k := range all {
		v, err := ReadVerdict(k)
		if err != nil || cultivar == "" || v.Cultivar == cultivar {
			out = append(out, k)
		}
	}
	return out
}

// LearnBurn is the model of burnt spots after verdicts, of which the last on each spot counts.
func LearnBurn(all []Verdict) (plantfigure.BurnModel, error) {
	last := map[string]Verdict{}
	var order []string
	for _, v := range all {
		k := v.Photo + " " + v.Spot
		if _, ok := last[k]; !ok {
			order = append(order, k)
		}
		last[k] = v
	}
	var teach []plantfigure.Verdict
	for _, k := range order {
		teach = append(teach, plantfigure.Verdict{Seen: last[k].Seen, Burnt: last[k].Burnt})
	}
	return plantfigure.LearnBurn(plantfigure.UsualBurn(), teach)
}
