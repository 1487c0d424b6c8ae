package headcycle

import "slices"

// An UncertainTrait is one field of [Spread] with what it spreads.
type UncertainTrait struct {
	Name     string                     // of the field of Spread
	SD       func(s Spread) float64     // of the logarithm
	Multiply func(t *Traits, f float64) // the trait, in place
}

// UncertainTraits lists all fields of [Spread], in the order in which
// [Spread.Draw] draws them.
func UncertainTraits() []UncertainTrait { return slices.Clone(uncertain) }

var uncertain = []UncertainTrait{
	{"Vigour", func(s Spread) float64 { return s.Vigour }, func(t *Traits, f float64) { t.Growth.Vigour *= f }},
	{"GrowthMax", func(s Spread) float64 { return s.GrowthMax }, func(t *Traits, f float64) { t.Growth.GrowthMax *= f }},
	{"Respiration", func(s Spread) float64 { return s.Respiration }, func(t *Traits, f float64) { t.Growth.RespShoot *= f; t.Growth.RespRoot *= f }},
	{"AreaScale", func(s Spread) float64 { return s.AreaScale }, func(t *Traits, f float64) { t.Growth.AreaScale *= f }},
	{"AreaLight", func(s Spread) float64 { return s.AreaLight }, func(t *Traits, f float64) { t.Growth.AreaLight *= f }},
	{"DryShare", func(s Spread) float64 { return s.DryShare }, func(t *Traits, f float64) { t.Growth.DryShare *= f }},
	{"Stretch", func(s Spread) float64 { return s.Stretch }, func(t *Traits, f float64) { t.Stretch *= f }},
	{"Compact", func(s Spread) float64 { return s.Compact }, func(t *Traits, f float64) { t.Compact *= f }},
	{"Need", func(s Spread) float64 { return s.Need }, func(t *Traits, f float64) { t.Heart.Need *= f }},
	{"Bearing", func(s Spread) float64 { return s.Bearing }, func(t *Traits, f float64) { t.Heart.Bearing *= f }},
	{"CloseMass", func(s Spread) float64 { return s.CloseMass }, func(t *Traits, f float64) { t.Heart.CloseMass *= f }},
	{"HeartResistance", func(s Spread) float64 { return s.HeartResistance }, func(t *Traits, f float64) { t.Heart.HeartResistance *= f }},
	{"Sap", func(s Spread) float64 { return s.Sap }, func(t *Traits, f float64) { t.Heart.Sap *= f }},
	{"RootFlow", func(s Spread) float64 { return s.RootFlow }, func(t *Traits, f float64) { t.Heart.RootFlow *= f }},
	{"DryNight", func(s Spread) float64 { return s.DryNight }, func(t *Traits, f float64) { t.Heart.DryNight *= f }},
	{"YoungGrowth", func(s Spread) float64 { return s.YoungGrowth }, func(t *Traits, f float64) { t.Heart.GrowthMax *= f }},
	{"Rivals", func(s Spread) float64 { return s.Rivals }, func(t *Traits, f float64) { t.Heart.Rivals *= f }},
}
