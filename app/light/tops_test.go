package light_test

import (
	"math"
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

// Where all plants stand equally tall none shades another; one that stays behind loses light to its
// neighbours, and they lose none to it.
func TestTallerNeighboursShade(t *testing.T) {
	b := demoBench(t, "tier-2-middle.yaml")
	b.Readings = nil
	if a := answer(t, model(t, b), nil); a.Shade != nil || a.Plants[0].Top != nil {
		t.Errorf("shade without heights: %+v", a.Shade)
	}
	for i := range b.Plants {
		b.Plants[i].Height = 0.15
	}
	even := answer(t, model(t, b), nil)
	for _, p := range even.Plants {
		if p.Top.Taken != 0 || !(p.Top.PPFD > 0) {
			t.Errorf("%s at 15 cm among equals: %+v, at the surface %g", p.Name, *p.Top, float64(p.PPFD))
		}
	}
	last := 0.0
	for _, h := range []quantity.Metre{0.12, 0.09, 0.05} {
		b.Plants[7].Height = h
		a := answer(t, model(t, b), nil)
		if got := a.Plants[7].Top.Taken; !(got > last && got < 0.8) || math.Abs(a.Shade.Value-100*got) > 1e-9 {
			t.Errorf("at %g m among 0.15 m neighbours take %.3f, before %.3f; figure %v", float64(h), got, last, a.Shade.Value)
		} else {
			last = got
		}
		if other := a.Plants[8].Top; other.Taken != 0 || math.Abs(float64(other.PPFD-even.Plants[8].Top.PPFD)) > 1e-9 {
			t.Errorf("a tall plant beside a short one: %+v", *other)
		}
	}
}

// A lamp that has lost light since a reading was taken is as bright on the day of
// the reading as the reading says: readings of two days, each as bright as its day's
// lamp, agree.
func TestReadingsOfTheirDay(t *testing.T) {
	b := read(t, smallLamp)
	b.Crop.Transplanted = "2027-01-01"
	l := &b.Lamps[0]
	l.Left, l.NewOn, l.LeftOn = underlamp.Said[quantity.Fraction](0.8), "2025-01-01", "2026-01-01"
	l.FadeTo(0.8, l.LeftOn)
	lit, err := model(t, b).At(l.Height)
	if err != nil {
		t.Fatal(err)
	}
	now := float64(lit.Answer(nil, 13).Plants[0].PPFD)
	p := b.Plants[0]
	at := func(day string, ppfd float64) underlamp.Reading {
		return underlamp.Reading{Name: day, X: p.X, Y: p.Y, PPFD: quantity.PPFD(ppfd), When: day, Dimming: underlamp.Assumed[quantity.Fraction](1, "")}
	}
	// Today 0.64 of a new lamp's light is left: the day it was new it gave 1/0.64 of it.
	whole := model(t, b).Fit().Lamps[0].Flux
	if want := l.Flux.Value * 0.64; math.Abs(float64(whole/want)-1) > 2e-3 {
		t.Errorf("flux on the day of the bench %g, want %g", float64(whole), float64(want))
	}
	centre := now // mean over the crown stands for the middle: judged by equality below
	b.Readings = []underlamp.Reading{at("2025-01-01", centre/0.64), at("2026-01-01", centre*0.8/0.64), at("2027-01-01", centre)}
	var model3 []float64
	for _, r := range model(t, b).Fit().Readings {
		model3 = append(model3, r.Model/r.Measured)
	}
	for _, v := range model3[1:] {
		if math.Abs(v/model3[0]-1) > 2e-3 {
			t.Errorf("model over measured %v: the days differ", model3)
		}
	}
}
