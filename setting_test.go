package underlamp_test

import (
	"testing"

	"underlamp"
	"underlamp/science/quantity"
)

// A part of a setting is a default only while nobody has given it or turned it.
func TestOriginsOfASetting(t *testing.T) {
	b := &underlamp.Bench{Lamps: []underlamp.Lamp{
		{Height: 0.3, Flux: underlamp.Said[quantity.PPF](70), Dimming: underlamp.Said[quantity.Fraction](0.7), Hours: underlamp.Said[quantity.Hours](16)},
		{Height: 0.3, Flux: underlamp.Said[quantity.PPF](30), Dimming: underlamp.Said[quantity.Fraction](0.7), Hours: underlamp.Assumed[quantity.Hours](16, "usual")},
	}}
	now := b.Setting() // a weighted mean, so 0.7 only to rounding
	if o := b.Origins(now); o != (underlamp.SettingOrigins{Height: underlamp.Stated, Dimming: underlamp.Stated, Hours: underlamp.Default}) {
		t.Errorf("as the bench is set: %+v", o)
	}
	b.Lamps[0].Dimming = underlamp.Assumed[quantity.Fraction](0.7, "usual")
	if o := b.Origins(now); o.Dimming != underlamp.Default || o.Height != underlamp.Stated {
		t.Errorf("with one dimming that nobody gave: %+v", o)
	}
	b.Lamps[0].Dimming = underlamp.Said[quantity.Fraction](0.7)
	turned := now
	turned.Hours = 12
	if o := b.Origins(turned); o.Hours != underlamp.Stated || o.Dimming != underlamp.Stated {
		t.Errorf("hours turned to 12: %+v", o)
	}
	if l := b.With(now).Lamps; l[0].Hours.Origin != underlamp.Stated || l[1].Hours.Origin != underlamp.Default {
		t.Errorf("a setting that turns nothing changes the origin of the hours to %v and %v", l[0].Hours.Origin, l[1].Hours.Origin)
	}
	if l := b.With(turned).Lamps; l[1].Hours.Origin != underlamp.Stated || l[1].Hours.Value != 12 {
		t.Errorf("turned to 12 h, the lamp has %v from %v", l[1].Hours.Value, l[1].Hours.Origin)
	}
}
