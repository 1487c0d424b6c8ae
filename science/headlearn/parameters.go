package headlearn

import (
	"math"
	"slices"

	"underlamp/science/headcycle"
)

// Method is the version of the method and of its parameters, kept in a [Summary].
const Method = 1

// CycleShare is the part of the variance between crops that a crop does not keep from
// one cycle to the next: weather behind the wall, seed lots, care. It is the same in
// every trait, so that a cycle of many plants does not count as many cycles. Assumed,
// no source.
const CycleShare = 0.2

// A group is traits that act alike, so that no observation can part them: they are
// learnt as one factor. weight is the power of a trait in that factor.
type group struct {
	key, name string
	heart     bool // seen in burn alone
	members   []member
}

type member struct {
	trait  string
	weight float64
}

// groups lists the parameters.
//
// Need, sap and the growth of young leaves enter the calcium of the heart nearly as
// one quotient, Need·growth/Sap, and the two traits of the night nearly as one
// product. What is not listed (compactness, rivals in the feed) stays at its prior:
// weighings and burn hardly speak of it.
var groups = []group{
	{key: "vigour", name: "vigour", members: []member{{"Vigour", 1}}},
	{key: "young-growth", name: "growth of young plants", members: []member{{"GrowthMax", 1}}},
	{key: "respiration", name: "respiration", members: []member{{"Respiration", 1}}},
	{key: "leaf-area", name: "leaf area", members: []member{{"AreaScale", 1}}},
	{key: "area-light", name: "leaf area lost to strong light", members: []member{{"AreaLight", 1}}},
	{key: "dry-share", name: "dry share", members: []member{{"DryShare", 1}}},
	{key: "stretch", name: "stretch", members: []member{{"Stretch", 1}}},
	{key: "need", name: "need of calcium against supply", heart: true, members: []member{{"Need", 1}, {"Sap", -1}, {"YoungGrowth", 1}}},
	{key: "bearing", name: "bearing of want", heart: true, members: []member{{"Bearing", 1}}},
	{key: "close-mass", name: "mass at which the heart closes", heart: true, members: []member{{"CloseMass", 1}}},
	{key: "heart-resistance", name: "resistance of the heart", heart: true, members: []member{{"HeartResistance", 1}}},
	{key: "night", name: "supply by root pressure at night", heart: true, members: []member{{"RootFlow", 1}, {"DryNight", 1}}},
}

// plantSpread is the last parameter: the factor on the spread of ln fresh mass between
// plants. It has no trait of its own.
const (
	plantSpreadKey = "plant-spread"
	plantSpreadSD  = 0.35 // of its logarithm; assumed, no source
)

// spreadFactor is the factor on the spread of plants at its logarithm from the middle.
// Its mean square over the prior is 1, so that without evidence plants spread as the
// forecast without learning has them.
func spreadFactor(log float64) float64 { return math.Exp(log - plantSpreadSD*plantSpreadSD) }

// An axis is a parameter with its prior.
type axis struct {
	group
	traits []int     // indices in headcycle.UncertainTraits
	shift  []float64 // ln factor of each trait for a ln factor of 1 of the group
	sd     float64   // prior, of the ln factor of the group
}

// A frame is a prior taken apart: what a crop keeps, what a cycle brings, what a plant
// brings, by trait.
type frame struct {
	central             headcycle.Traits
	traits              []headcycle.UncertainTrait
	kept, cycle, within []float64
	axes                []axis
}

func newFrame(p Prior) frame {
	f := frame{central: p.Central, traits: headcycle.UncertainTraits()}
	for _, t := range f.traits {
		between := t.SD(p.Between)
		f.kept = append(f.kept, between*math.Sqrt(1-CycleShare))
		f.cycle = append(f.cycle, between*math.Sqrt(CycleShare))
		f.within = append(f.within, t.SD(p.Within))
	}
	for _, g := range groups {
		a := axis{group: g}
		variance := 0.0
		for _, m := range g.members {
			i := f.index(m.trait)
			a.traits = append(a.traits, i)
			// Given the factor of the group, the mean of a trait is its share of the
			// variance (conditional mean of a normal).
			a.shift = append(a.shift, m.weight*f.kept[i]*f.kept[i])
			variance += m.weight * m.weight * f.kept[i] * f.kept[i]
		}
		a.sd = math.Sqrt(variance)
		for j := range a.shift {
			if variance > 0 {
				a.shift[j] /= variance
			}
		}
		f.axes = append(f.axes, a)
	}
	return f
}

func (f *frame) index(trait string) int {
	return slices.IndexFunc(f.traits, func(t headcycle.UncertainTrait) bool { return t.Name == trait })
}

// at are the traits of the mean plant at ln factors of the groups.
func (f *frame) at(logs []float64) headcycle.Traits {
	t := f.central
	for k := range f.axes {
		if logs[k] == 0 {
			continue
		}
		for j, i := range f.axes[k].traits {
			f.traits[i].Multiply(&t, math.Exp(logs[k]*f.axes[k].shift[j]))
		}
	}
	return t
}

// isHeart says which traits the heart alone has: growth does not feel them.
func (f *frame) isHeart(i int) bool {
	for _, a := range f.axes {
		if a.heart && slices.Contains(a.traits, i) {
			return true
		}
	}
	return f.traits[i].Name == "Rivals"
}
