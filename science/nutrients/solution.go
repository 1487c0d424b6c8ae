package nutrients

import "math"

// A Solution is water with what is dissolved in it.
type Solution struct {
	Ions       Amounts // mmol/L
	Alkalinity float64 // meq/L, against CO2, H2PO4⁻ and NH4⁺; below 0 in an acid solution
	C          float64 // temperature, °C
}

// AirCO2 is the share of CO2 in outdoor air that an aerated tank comes to balance with, in atm.
const AirCO2 = 420e-6

// A Reading is what would be measured of a solution.
type Reading struct {
	PH          float64
	EC          float64 // mS/cm at 25 °C
	Strength    float64 // ionic strength, mol/L
	Carbon      float64 // inorganic carbon, mmol/L
	Osmotic     float64 // osmotic potential, MPa, below 0
	CaActive    float64 // activity of calcium, mmol/L
	CaPaired    float64 // share of the calcium in pairs with sulfate, phosphate and bicarbonate
	Gypsum      float64 // saturation of gypsum, 1 at balance
	Brushite    float64 // of CaHPO4·2H2O
	Calcite     float64
	Struvite    float64
	Bicarbonate float64 // mmol/L
}

// Open is the solution in balance with air of a CO2 pressure (atm): an aerated tank, to which a
// still one comes in time.
func (s Solution) Open(pressure float64) Reading {
	e := equilibria(s.C)
	ph, st := e.settle(&s.Ions, s.Alkalinity/1000, carbonate{open: true, pressure: pressure})
	return e.reading(&s, ph, &st)
}

// Closed is the solution with its inorganic carbon kept (mmol/L): none leaves, none enters.
func (s Solution) Closed(carbon float64) Reading {
	e := equilibria(s.C)
	ph, st := e.settle(&s.Ions, s.Alkalinity/1000, carbonate{total: carbon / 1000})
	return e.reading(&s, ph, &st)
}

// At is the solution at a pH that was measured, with the alkalinity that it then must have; its
// own is not looked at. Inorganic carbon is in balance with air.
func (s Solution) At(ph float64) (Reading, Solution) {
	e := equilibria(s.C)
	st := e.speciate(&s.Ions, ph, carbonate{open: true, pressure: AirCO2}, nil)
	s.Alkalinity = 1000 * st.alkalinity()
	return e.reading(&s, ph, &st), s
}

// Carbon is the inorganic carbon of a water in mmol/L by its alkalinity and the pH that was
// measured.
func (s Solution) Carbon(ph float64) float64 {
	e := equilibria(s.C)
	low, high := 0.0, 0.2
	var st state
	for range 60 {
		mid := (low + high) / 2
		st = e.speciate(&s.Ions, ph, carbonate{total: mid}, nil)
		if st.alkalinity()*1000 < s.Alkalinity {
			low = mid
		} else {
			high = mid
		}
	}
	return 1000 * (low + high) / 2
}

func (e *equilibrium) reading(s *Solution, ph float64, st *state) Reading {
	r := Reading{PH: ph, Strength: st.strength, Carbon: 1000 * st.carbon, Bicarbonate: 1000 * st.conc[spHCO3]}
	at25 := *st
	if e.c != 25 {
		at25 = equilibria(25).speciate(&s.Ions, ph, carbonate{total: st.carbon}, st)
	}
	r.EC = at25.conductance(25)
	sum := (s.Ions[Boron] + s.Ions[Silicon] + s.Ions[Iron]) / 1000
	for k := range st.conc {
		sum += st.conc[k]
	}
	r.Osmotic = -osmoticCoefficient(st.strength, sum, e.debyeA) * sum * gasConstant * (e.c + 273.15) / 1000
	ca, so4 := st.activity(spCa), st.activity(spSO4)
	r.CaActive = 1000 * ca
	if t := s.Ions[Calcium]; t > 0 {
		r.CaPaired = min(max(1-1000*st.conc[spCa]/t, 0), 1)
	}
	r.Gypsum = ca * so4 / math.Pow(10, e.gypsum)
	r.Brushite = ca * st.activity(spHPO4) / math.Pow(10, e.brushite)
	r.Calcite = ca * st.activity(spCO3) / math.Pow(10, e.calcite)
	r.Struvite = st.activity(spMg) * st.activity(spNH4) * st.activity(spPO4) / math.Pow(10, e.struvite)
	return r
}

// osmoticCoefficient is that of Debye and Hückel in the form of Pitzer1973, without terms for single ions:
//
//	(φ − 1) Σm = −2 A_φ I^{3/2} / (1 + 1.2 √I),  A_φ = A ln 10 / 3
func osmoticCoefficient(strength, sum, debyeA float64) float64 {
	if !(sum > 0) {
		return 1
	}
	a := debyeA * math.Ln10 / 3
	return max(1-2*a*math.Pow(strength, 1.5)/(1+1.2*math.Sqrt(strength))/sum, 0.5)
}

// Conductance is the EC in mS/cm at the temperature of the solution, not brought to 25 °C, at a pH.
func (s Solution) Conductance(ph float64) float64 {
	st := equilibria(s.C).speciate(&s.Ions, ph, carbonate{open: true, pressure: AirCO2}, nil)
	return st.conductance(s.C)
}

// ToEC25 brings an EC read at a temperature without compensation to 25 °C: 2.0 % for each
// degree, which eight recipes hold within 0.1 from 10 to 30 °C (PHREEQC2013).
func ToEC25(ec, c float64) float64 { return ec / (1 + 0.02*(c-25)) }

// AcidForPH is how much acid (meq/L; below 0: base) brings a water of an alkalinity and pH to
// another pH: if its CO2 stays in, and if it leaves to the air. A tank that is aerated or
// stirred comes to the second; of hard water the difference is a quarter.
func (s Solution) AcidForPH(start, target float64) (closed, open float64) {
	e := equilibria(s.C)
	carbon := s.Carbon(start) / 1000
	keep := e.speciate(&s.Ions, target, carbonate{total: carbon}, nil)
	leave := e.speciate(&s.Ions, target, carbonate{open: true, pressure: AirCO2}, nil)
	return s.Alkalinity - 1000*keep.alkalinity(), s.Alkalinity - 1000*leave.alkalinity()
}

// AlkalinityAt is the alkalinity (meq/L) that a solution of these ions has at a pH in balance with air.
func (s Solution) AlkalinityAt(ph float64) float64 {
	st := equilibria(s.C).speciate(&s.Ions, ph, carbonate{open: true, pressure: AirCO2}, nil)
	return 1000 * st.alkalinity()
}

// Blend mixes volumes of two solutions; the temperature is the mean by volume.
func Blend(a Solution, litresA float64, b Solution, litresB float64) Solution {
	v := litresA + litresB
	if !(v > 0) {
		return a
	}
	x, y := litresA/v, litresB/v
	return Solution{Ions: a.Ions.Times(x).Plus(y, b.Ions), Alkalinity: x*a.Alkalinity + y*b.Alkalinity, C: x*a.C + y*b.C}
}
