package underlamp

import "underlamp/science/quantity"

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
}

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
		s.Dimming += quantity.Fraction(w * float64(l.Dimming))
		s.Hours += quantity.Hours(w * float64(l.Hours))
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
// the same for all.
func (b *Bench) With(s Setting) *Bench {
	now := b.Setting()
	c := *b
	c.Lamps = make([]Lamp, len(b.Lamps))
	for i, l := range b.Lamps {
		l.Height += s.Height - now.Height
		l.Dimming = s.Dimming
		l.Hours = s.Hours
		c.Lamps[i] = l
	}
	return &c
}
