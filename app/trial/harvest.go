package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"underlamp"
	"underlamp/science/quantity"
	"underlamp/science/stat"
	"underlamp/science/stat/anova"
)

// Spreads of units, where the trial has too few repeats to tell. Assumed, no source.
const (
	assumedUnitSD = 0.05 // of the logarithm of mass, between lamps of one level and cycle
	assumedICC    = 0.2  // of burn, within a unit
)

// A Harvest is what one block of a trial brought, as evidence about the cultivar: its
// plants were transplanted on one day, and each unit is one repeat.
type Harvest struct {
	Trial, Block            string
	Transplanted, Harvested string // YYYY-MM-DD
	Days                    int
	StartMass               *underlamp.Given[quantity.Gram] // nil: that of the bench
	Units                   []UnitHarvest

	UnitSD   underlamp.Given[float64] // standard deviation of ln mass between units of one level and block
	BurnSame underlamp.Given[float64] // correlation of burn within a unit
}

// A UnitHarvest is what one unit brought on its last day.
type UnitHarvest struct {
	Unit, Treatment string
	DLI             quantity.DLI // that its plants got
	Aimed           bool         // the DLI is only what was aimed at
	Day             int          // from transplanting
	Plants          []PlantHarvest
}

// A PlantHarvest is one plant on the last day of its unit.
type PlantHarvest struct {
	Plant  string
	Mass   float64 // g; NaN if it was not weighed
	Looked bool    // for burn
	Burnt  bool
}

// Masses are the masses of the plants that were weighed, in g.
func (u *UnitHarvest) Masses() (out []float64) {
	for _, p := range u.Plants {
		if !math.IsNaN(p.Mass) {
			out = append(out, p.Mass)
		}
	}
	return out
}

// Mean is the geometric mean of the masses in g: masses of one unit spread about it in
// proportion. It is NaN if none was weighed.
func (u *UnitHarvest) Mean() float64 {
	m := u.Masses()
	s := 0.0
	for _, x := range m {
		s += math.Log(x) / float64(len(m))
	}
	if len(m) == 0 {
		return math.NaN()
	}
	return math.Exp(s)
}

// Burn counts the plants that burnt of those that were looked at.
func (u *UnitHarvest) Burn() (burnt, of int) {
	for _, p := range u.Plants {
		if p.Looked {
			of++
			if p.Burnt {
				burnt++
			}
		}
	}
	return burnt, of
}

// Harvests reads what a trial says about the cultivar of a bench: of each block whose day
// of transplanting the plan gives, the masses and the burn of each unit with the light
// that it got. What cannot be used is said in notes: units whose treatment is no level of
// light (but for the control, which is grown as the bench is), parts of other cultivars,
// blocks without days. The error says that nothing is left.
func Harvests(t *underlamp.Trial, entries []underlamp.TrialEntry, cultivar string) (out []Harvest, notes []string, err error) {
	note := func(format string, args ...any) {
		if s := fmt.Sprintf(format, args...); !slices.Contains(notes, s) {
			notes = append(notes, s)
		}
	}
	treat := map[string]underlamp.Treatment{}
	for _, x := range t.Treatments {
		treat[x.Name] = x
	}
	unitSD, same := scatterOf(t, entries)
	index := map[string]int{} // of the harvest by block
	for _, u := range t.Places {
		c := t.Cycle(u.Block)
		switch x := treat[u.Treatment]; {
		case c == nil || c.Transplanted == "":
			note("%s has no day of transplanting in the plan (cycles: block, transplanted, harvested), so nothing is learned from it.", blockName(u.Block))
			continue
		case u.Part != "" && cultivar != "" && !strings.EqualFold(strings.TrimSpace(u.Part), strings.TrimSpace(cultivar)):
			note("Units of %s are left out: the bench grows %s.", u.Part, cultivar)
			continue
		case x.DLI == 0 && !x.Control:
			note("Units of %q are left out: it is no level of light, and what it does to a plant is not known here.", u.Treatment)
			continue
		case doseOf(t, u) == 0:
			note("Units of %q are left out: their light is not known (dli: in the plan).", u.Treatment)
			continue
		}
		h, why := harvestOf(t, u, c, entries)
		if why != "" {
			note("%s", why)
			continue
		}
		i, ok := index[u.Block]
		if !ok {
			i = len(out)
			index[u.Block] = i
			out = append(out, Harvest{Trial: t.Name, Block: u.Block, Transplanted: c.Transplanted, Harvested: c.Harvested, StartMass: c.StartMass, UnitSD: unitSD, BurnSame: same})
		}
		out[i].Units = append(out[i].Units, h)
		out[i].Days = max(out[i].Days, h.Day)
	}
	if len(out) == 0 {
		return nil, notes, fmt.Errorf("the trial %s holds nothing to learn from: %s", t.Name, strings.Join(append(notes, "a weighing or a look for burn at harvest is needed."), " "))
	}
	for i := range out {
		if out[i].Harvested == "" {
			out[i].Harvested = dayAfter(out[i].Transplanted, out[i].Days)
		}
		for _, u := range out[i].Units {
			if u.Aimed {
				note("The light of some units was not read: what was aimed at stands for it.")
			}
		}
	}
	return out, notes, nil
}

func blockName(b string) string {
	if b == "" {
		return "The trial"
	}
	return b
}

// harvestOf reads the last day of one unit; why says why there is nothing.
func harvestOf(t *underlamp.Trial, u underlamp.TrialUnit, c *underlamp.TrialCycle, entries []underlamp.TrialEntry) (h UnitHarvest, why string) {
	h = UnitHarvest{Unit: u.Name, Treatment: u.Treatment, DLI: quantity.DLI(doseOf(t, u)), Aimed: u.DLI == 0}
	day := func(e underlamp.TrialEntry) int {
		text := e.Time
		if len(text) > len(time.DateOnly) {
			text = text[:len(time.DateOnly)]
		}
		if text == "" {
			text = c.Harvested
		}
		if text == "" {
			return 0
		}
		return daysBetween(c.Transplanted, text)
	}
	at := map[string]int{}
	plant := func(name string) *PlantHarvest {
		i, ok := at[name]
		if !ok {
			i = len(h.Plants)
			at[name] = i
			h.Plants = append(h.Plants, PlantHarvest{Plant: name, Mass: math.NaN()})
		}
		return &h.Plants[i]
	}
	for _, e := range entries {
		if e.TrialUnit == u.Name && e.Missing == "" && (e.What == underlamp.ResponseMass || e.What == underlamp.ResponseBurn) {
			h.Day = max(h.Day, day(e))
		}
	}
	if h.Day < 1 {
		return h, ""
	}
	if h.Day > 400 {
		return h, fmt.Sprintf("%s is left out: its last entry is of day %d.", u.Name, h.Day)
	}
	early := 0
	for _, e := range entries {
		if e.TrialUnit != u.Name || e.Missing != "" {
			continue
		}
		switch e.What {
		case underlamp.ResponseMass:
			if day(e) < h.Day {
				early++
			} else if e.Value > 0 {
				plant(e.Plant).Mass = e.Value
			}
		case underlamp.ResponseBurn: // burn does not heal: once seen, it stays
			if e.Value > 0 {
				p := plant(e.Plant)
				p.Looked, p.Burnt = true, true
			} else if day(e) == h.Day {
				plant(e.Plant).Looked = true
			}
		case underlamp.ResponseFirst:
			p := plant(e.Plant)
			p.Looked, p.Burnt = true, true
		}
	}
	return h, ""
}

// scatterOf takes the spread of units from the trial itself where it has repeats enough.
func scatterOf(t *underlamp.Trial, entries []underlamp.TrialEntry) (unitSD, same underlamp.Given[float64]) {
	unitSD = underlamp.Assumed(assumedUnitSD, "5 % between lamps of one level: assumed, no source")
	same = underlamp.Assumed(assumedICC, "of the spread of burn, a fifth between lamps: assumed, no source")
	if t.Response == underlamp.ResponseMass {
		if lamp, _, _, err := Scatter(t, entries); err == nil {
			f := &Findings{Trial: t}
			if f.gather(entries) == nil {
				mean := 0.0
				for _, v := range f.values() {
					mean += v / float64(len(f.Units))
				}
				if mean > 0 {
					unitSD = underlamp.Given[float64]{Value: lamp / mean, Origin: underlamp.Fitted, Note: "from the units of the trial"}
				}
			}
		}
	}
	burn := *t
	burn.Response = underlamp.ResponseBurn
	f := &Findings{Trial: &burn}
	if f.gather(entries) == nil && len(f.Units) > len(f.treat.Levels)+2 {
		var v []float64
		var unit, group []string
		for _, u := range f.Units {
			for _, x := range u.Raw {
				v, unit, group = append(v, x), append(unit, u.Name), append(group, u.Treatment)
			}
		}
		g := stat.NewFactor("treatment", group)
		if u, err := anova.UnitMeans(v, stat.NewFactor("unit", unit), &g); err == nil && u.Between+u.Within > 0 {
			same = underlamp.Given[float64]{Value: u.ICC, Origin: underlamp.Fitted, Note: "from the units of the trial"}
		}
	}
	return unitSD, same
}
