package underlamp

import (
	"math"

	"underlamp/science/quantity"
)

// A Setting is what can be turned on a bench without rebuilding it.
type Setting struct {
	Height  quantity.Metre    // of the lamps above the planting surface
	Dimming quantity.Fraction // of every lamp
	Hours   quantity.Hours    // of every lamp
}

// Limits are what the grower allows: how far the setting may be turned, and how
// much burn is bearable.
type Limits struct {
	Burn      Given[quantity.Fraction] // highest share of heads with inner tipburn
	MinHeight Given[quantity.Metre]
	MaxHeight Given[quantity.Metre]
	MinDim    Given[quantity.Fraction]
	MaxDim    Given[quantity.Fraction]
	MinHours  Given[quantity.Hours]
	MaxHours  Given[quantity.Hours]

	// What else may be turned, and how far; nil: it stays as it is.
	Fan           *Range[quantity.MetrePerSecond] // speed of the air among the plants
	NightHumidity *Range[quantity.Fraction]
	CO2           *Range[quantity.PPM]
	Density       *Range[float64] // plants m⁻² at their last places
	Harvest       *Range[int]     // days after transplanting

	Target  quantity.PPFD // what the plants should have; 0: not said
	Ceiling quantity.PPFD // what no plant should have more of; 0: not said
}

// A Range is how far something may be turned, ends included.
type Range[T any] struct{ Low, High T }

// Setting reads the setting that the bench has now: the mean height, dimming
// and hours of its lamps, weighted by their photon flux where lamps differ.
// A bench without lamps has the zero setting.
func (b *Bench) Setting() Setting {
	var s Setting
	var sum float64
	for _, l := range b.Lamps {
		w := float64(l.Flux.Value)
		sum += w
		s.Height += quantity.Metre(w * float64(l.Height))
		s.Dimming += quantity.Fraction(w * float64(l.Dimming.Value))
		s.Hours += quantity.Hours(w * float64(l.Hours.Value))
	}
	if sum == 0 {
		return Setting{}
	}
	s.Height /= quantity.Metre(sum)
	s.Dimming /= quantity.Fraction(sum)
	s.Hours /= quantity.Hours(sum)
	return s
}

// With returns a copy of the bench with every lamp at the setting. Lamps that
// hung at different heights keep their differences; dimming and hours become
// the same for all. A lamp that is as the setting asks keeps the origin of its
// value; what was turned counts as stated.
func (b *Bench) With(s Setting) *Bench {
	now := b.Setting()
	c := *b
	c.Lamps = make([]Lamp, len(b.Lamps))
	for i, l := range b.Lamps {
		l.Height += s.Height - now.Height
		l.Dimming = turned(l.Dimming, s.Dimming)
		l.Hours = turned(l.Hours, s.Hours)
		c.Lamps[i] = l
	}
	return &c
}

// SettingOrigins tell where the parts of a setting came from.
type SettingOrigins struct{ Height, Dimming, Hours Origin }

// Origins tells where the parts of a setting of this bench came from. A part
// that is as the bench has it has the weakest origin among the lamps, so that
// a default stays one; any other was asked for and counts as stated. Heights
// are always stated: a bench file cannot leave them out.
func (b *Bench) Origins(s Setting) SettingOrigins {
	o := SettingOrigins{Stated, Stated, Stated}
	now := b.Setting()
	if same(s.Dimming, now.Dimming) {
		o.Dimming = weakest(b.Lamps, func(l Lamp) Origin { return l.Dimming.Origin })
	}
	if same(s.Hours, now.Hours) {
		o.Hours = weakest(b.Lamps, func(l Lamp) Origin { return l.Hours.Origin })
	}
	return o
}

func weakest(lamps []Lamp, of func(Lamp) Origin) Origin {
	o := Computed
	for _, l := range lamps {
		o = min(o, of(l))
	}
	return o
}

// turned is a value after it was set to v.
func turned[T ~float64](now Given[T], v T) Given[T] {
	if same(now.Value, v) {
		now.Value = v
		return now
	}
	return Said(v)
}

// same says that two values differ by no more than the rounding of a mean.
func same[T ~float64](a, b T) bool { return math.Abs(float64(a-b)) <= 1e-9 }

// LightAt is the share of their full light that the lamps give together at a
// dimming, weighted by their photon flux. It is exact for lamps with one kind of
// dimmer.
func (b *Bench) LightAt(dimming quantity.Fraction) quantity.Fraction {
	var share, sum float64
	for i := range b.Lamps {
		w := float64(b.Lamps[i].Flux.Value)
		sum += w
		share += w * float64(b.Lamps[i].Light(dimming))
	}
	if sum == 0 {
		return dimming
	}
	return quantity.Fraction(share / sum)
}

// DrawAt is the power of all lamps at a dimming.
func (b *Bench) DrawAt(dimming quantity.Fraction) quantity.Watt {
	var w quantity.Watt
	for i := range b.Lamps {
		w += b.Lamps[i].Draw(dimming)
	}
	return w
}

// DimmingFor is the dimming at which the lamps give a share of their full light,
// from 0 up; a share above 1 gives that share.
func (b *Bench) DimmingFor(share quantity.Fraction) quantity.Fraction {
	return inverse(b.LightAt, share)
}
