package headcycle

import "math"

// WithinCrop returns how far the plants of one crop lie from their mean: one
// cultivar, sown together, in one room. It is what parts neighbours.
//
//   - Vigour 0.08: seed, rank of emergence and handling. Fresh mass of one crop then
//     varies by about a tenth; common practice, no source.
//   - AreaScale and DryShare: half of the whole. The plants of one size class in
//     WUR2021 lie 16 to 20 % and 11 to 15 % apart in leaf area per mass and dry
//     share, but over varieties and the whole class.
//   - Respiration, AreaLight, GrowthMax and Rivals: none. They are known badly, not varied between
//     neighbours.
//   - Stretch and Compact: a third; assumed, no source.
//   - The heart: half of the whole for what a single plant brings (how its heart is
//     built and closes, how fast its young leaves grow, how much root pressure lifts),
//     a quarter for what the cultivar and the feed decide (the need, the sap, the
//     night that stops root pressure, how quickly want shows). Ten cultivars in one
//     chamber lay 7 to 41 % of leaves apart (ErtleKubota2023a), the standard error of
//     one of them was 2.8 to 3.5 % (ErtleKubota2023b): most of the spread is between.
//     The shares themselves are assumed, no source.
func WithinCrop() Spread {
	const plant, cultivar = 0.5, 0.25
	s := LettuceSpread()
	return Spread{
		Vigour:    0.08,
		AreaScale: plant * s.AreaScale, DryShare: plant * s.DryShare,
		Stretch: s.Stretch / 3, Compact: s.Compact / 3,
		CloseMass: plant * s.CloseMass, HeartResistance: plant * s.HeartResistance,
		YoungGrowth: plant * s.YoungGrowth, RootFlow: plant * s.RootFlow,
		Need: cultivar * s.Need, Bearing: cultivar * s.Bearing, Sap: cultivar * s.Sap, DryNight: cultivar * s.DryNight,
	}
}

// BetweenCrops returns how far the mean plants of crops lie from the central
// traits: cultivars, rooms, care, and what is not known of the parameters. It is
// what a grower's own results can narrow. With [WithinCrop] it makes up
// [LettuceSpread]: LettuceSpread = BetweenCrops.And(WithinCrop).
func BetweenCrops() Spread {
	return LettuceSpread().pair(WithinCrop(), func(whole, within float64) float64 { return math.Sqrt(whole*whole - within*within) })
}

// And combines two independent spreads: the squares of standard deviations add.
func (s Spread) And(o Spread) Spread { return s.pair(o, math.Hypot) }

// pair combines two spreads trait by trait.
func (s Spread) pair(o Spread, f func(a, b float64) float64) Spread {
	return Spread{
		Vigour: f(s.Vigour, o.Vigour), GrowthMax: f(s.GrowthMax, o.GrowthMax), Respiration: f(s.Respiration, o.Respiration),
		AreaScale: f(s.AreaScale, o.AreaScale), AreaLight: f(s.AreaLight, o.AreaLight), DryShare: f(s.DryShare, o.DryShare),
		Stretch: f(s.Stretch, o.Stretch), Compact: f(s.Compact, o.Compact),
		Need: f(s.Need, o.Need), Bearing: f(s.Bearing, o.Bearing),
		CloseMass: f(s.CloseMass, o.CloseMass), HeartResistance: f(s.HeartResistance, o.HeartResistance),
		Sap: f(s.Sap, o.Sap), RootFlow: f(s.RootFlow, o.RootFlow), DryNight: f(s.DryNight, o.DryNight), YoungGrowth: f(s.YoungGrowth, o.YoungGrowth), Rivals: f(s.Rivals, o.Rivals),
	}
}
