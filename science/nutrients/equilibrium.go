package nutrients

import "math"

// species of a solution that are told apart. Concentrations are in mol/L, which is taken for
// mol/kg of water: a feed differs by less than 1 %.
type species int

const (
	spH species = iota
	spOH
	spCa
	spMg
	spK
	spNa
	spNH4
	spNO3
	spCl
	spSO4
	spHSO4
	spH2PO4
	spHPO4
	spPO4
	spHCO3
	spCO3
	spCaSO4
	spMgSO4
	spKSO4
	spCaHPO4
	spMgHPO4
	spCaH2PO4
	spMgH2PO4
	spCaHCO3
	spMgHCO3
	spH3PO4
	spCO2
	spNH3
	spMetal // manganese, zinc and copper together
	speciesCount
)

// Charge, and parameters å (Å) and b of the law of Truesdell and Jones; those are remembered
// from the WATEQ set that phreeqc.dat uses. b is NaN where only å is known (b = 0).
var speciesFacts = [speciesCount]struct {
	z       float64
	size, b float64
}{
	spH: {1, 9, 0}, spOH: {-1, 3.5, 0}, spCa: {2, 5, 0.165}, spMg: {2, 5.5, 0.20}, spK: {1, 3.5, 0.015}, spNa: {1, 4, 0.075}, spNH4: {1, 2.5, 0},
	spNO3: {-1, 3, 0}, spCl: {-1, 3.5, 0.015}, spSO4: {-2, 5, -0.04}, spHSO4: {-1, 4.5, 0}, spH2PO4: {-1, 5.4, 0}, spHPO4: {-2, 5, 0}, spPO4: {-3, 4, 0},
	spHCO3: {-1, 5.4, 0}, spCO3: {-2, 5.4, 0}, spKSO4: {-1, 5.4, 0}, spCaH2PO4: {1, 5.4, 0}, spMgH2PO4: {1, 5.4, 0}, spCaHCO3: {1, 5.4, 0}, spMgHCO3: {1, 5.4, 0}, spMetal: {2, 6, 0},
}

// An equilibrium holds the constants at one temperature, as log₁₀ K.
type equilibrium struct {
	c            float64 // temperature, °C
	debyeA       float64
	debyeB       float64 // per Å
	k1, k2       float64 // CO2 + H2O = HCO3 + H; HCO3 = CO3 + H
	henry        float64 // CO2(g) = CO2(aq), mol/kg/atm
	water        float64
	p1, p2, p3   float64 // H3PO4, H2PO4, HPO4 losing H
	ammonia      float64
	bisulfate    float64
	pairCaSO4    float64
	pairMgSO4    float64
	pairKSO4     float64
	pairCaHPO4   float64
	pairMgHPO4   float64
	pairCaH2PO4  float64
	pairMgH2PO4  float64
	pairCaHCO3   float64
	pairMgHCO3   float64
	gypsum       float64
	brushite     float64 // CaHPO4·2H2O = Ca + HPO4 + 2 H2O
	calcite      float64
	struvite     float64 // MgNH4PO4·6H2O = Mg + NH4 + PO4
	gammaNeutral float64 // log γ of an uncharged species is this times I
}

const gasConstant = 8.314462618 // J/mol/K

// Equilibria at a temperature from 0 to 50 °C. Constants at 25 °C and the temperature of the
// carbonates are those of phreeqc.dat, brushite that of minteq.v4 (PHREEQC2013, read); enthalpies
// and the pairs of magnesium with phosphate and of calcium and magnesium with bicarbonate are
// remembered. Other pairs and gypsum are taken alike at all temperatures: gypsum moves by less than 0.03 from 5 to
// 35 °C.
func equilibria(c float64) *equilibrium {
	t := c + 273.15
	log := math.Log10(t)
	at := func(at25, enthalpy float64) float64 { // van 't Hoff, enthalpy in kJ/mol
		return at25 - enthalpy*1000/(math.Ln10*gasConstant)*(1/t-1/298.15)
	}
	e := &equilibrium{c: c}
	// Dielectric constant and the constants of Debye and Hückel after Truesdell and Jones (1974),
	// remembered; A is 0.509 and B 0.328 at 25 °C.
	dielectric := 2727.586 + 0.6224107*t - 466.9151*math.Log(t) - 52000.87/t
	density := 1 - (c-3.9863)*(c-3.9863)*(c+288.9414)/(508929.2*(c+68.12963))
	e.debyeA = 1.82483e6 * math.Sqrt(density) / math.Pow(dielectric*t, 1.5)
	e.debyeB = 50.2916 * math.Sqrt(density/(dielectric*t))
	// phreeqc.dat: CO3 + H = HCO3, and CO3 + 2 H = CO2 + H2O.
	one := 107.8871 + 0.03252849*t - 5151.79/t - 38.92561*log + 563713.9/(t*t)
	two := 464.1965 + 0.09344813*t - 26986.16/t - 165.75951*log + 2248628.9/(t*t)
	e.k2, e.k1 = -one, one-two
	e.henry = 108.3865 + 0.01985076*t - 6919.53/t - 40.45154*log + 669365/(t*t)
	e.water = at(-14.0, 55.9)
	e.p1, e.p2, e.p3 = at(-2.168, -8.0), at(-7.207, 3.6), at(-12.346, 14.7)
	e.ammonia, e.bisulfate = at(-9.252, 52.1), at(-1.988, -16.1)
	e.pairCaSO4, e.pairMgSO4, e.pairKSO4 = 2.14, 2.42, 1.18
	e.pairCaHPO4, e.pairCaH2PO4, e.pairMgHPO4, e.pairMgH2PO4 = 2.739, 1.408, 2.87, 1.513
	e.pairCaHCO3, e.pairMgHCO3 = 1.106, 1.07
	e.gypsum, e.calcite = -4.55, at(-8.48, -9.6)
	e.brushite = at(-18.995, 23) - e.p3
	e.struvite = -13.26 // Ohlinger 1998, remembered
	e.gammaNeutral = 0.1
	return e
}

// activities are log₁₀ γ at an ionic strength.
func (e *equilibrium) activities(strength float64) (out [speciesCount]float64) {
	root := math.Sqrt(strength)
	for s, f := range speciesFacts {
		if f.z == 0 {
			out[s] = e.gammaNeutral * strength
			continue
		}
		out[s] = -e.debyeA*f.z*f.z*root/(1+e.debyeB*f.size*root) + f.b*strength
	}
	return out
}

// A state is a solution parted into its species at one pH.
type state struct {
	conc     [speciesCount]float64 // mol/L
	loggamma [speciesCount]float64
	strength float64
	carbon   float64 // all inorganic carbon, mol/L
}

// activity of a species.
func (s *state) activity(k species) float64 { return s.conc[k] * math.Pow(10, s.loggamma[k]) }

// carbonate says what is held while the pH is sought: the carbon itself, or CO2 in balance
// with a gas.
type carbonate struct {
	total    float64 // mol/L, where closed
	open     bool
	pressure float64 // atm of CO2, where open
}

// speciate parts a solution at a pH. It never fails: the iteration is damped and ends after a
// fixed number of turns, when the strength moves by less than 1e-10.
func (e *equilibrium) speciate(a *Amounts, ph float64, held carbonate, from *state) state {
	var s state
	tot := func(i Ion) float64 { return a[i] / 1000 }
	strength := 0.01
	if from != nil && from.strength > 0 {
		s, strength = *from, from.strength
	}
	ca, mg, so4 := tot(Calcium), tot(Magnesium), tot(Sulfur)
	k := tot(Potassium)
	metal := tot(Manganese) + tot(Zinc) + tot(Copper)
	h := math.Pow(10, -ph)
	for turn := range 200 {
		g := e.activities(strength)
		s.loggamma = g
		// K for concentrations: log K less the γ of the product plus those of the parts.
		pair := func(logK float64, c, b, product species) float64 { return math.Pow(10, logK+g[c]+g[b]-g[product]) }
		acid := func(logK float64, acid, base species) float64 { return math.Pow(10, logK+g[acid]-g[base]) / h } // base/acid
		// Free anions from the free cations and back, twice a turn.
		hpo4, po4, h3po4 := acid(e.p2, spH2PO4, spHPO4), 0.0, 1/acid(e.p1, spH3PO4, spH2PO4)
		po4 = hpo4 * acid(e.p3, spHPO4, spPO4)
		r := acid(e.k1, spCO2, spHCO3) // HCO3/CO2
		r2 := acid(e.k2, spHCO3, spCO3)
		bis := 1 / acid(e.bisulfate, spHSO4, spSO4)
		kCaS, kMgS, kKS := pair(e.pairCaSO4, spCa, spSO4, spCaSO4), pair(e.pairMgSO4, spMg, spSO4, spMgSO4), pair(e.pairKSO4, spK, spSO4, spKSO4)
		kCaP, kMgP := pair(e.pairCaHPO4, spCa, spHPO4, spCaHPO4), pair(e.pairMgHPO4, spMg, spHPO4, spMgHPO4)
		kCaP2, kMgP2 := pair(e.pairCaH2PO4, spCa, spH2PO4, spCaH2PO4), pair(e.pairMgH2PO4, spMg, spH2PO4, spMgH2PO4)
		kCaC, kMgC := pair(e.pairCaHCO3, spCa, spHCO3, spCaHCO3), pair(e.pairMgHCO3, spMg, spHCO3, spMgHCO3)
		if turn == 0 && from == nil {
			s.conc[spCa], s.conc[spMg], s.conc[spK] = ca, mg, k
		}
		fCa, fMg, fK := s.conc[spCa], s.conc[spMg], s.conc[spK]
		fSO4 := so4 / (1 + bis + kCaS*fCa + kMgS*fMg + kKS*fK)
		p := tot(Phosphorus) / (1 + hpo4 + po4 + h3po4 + kCaP*fCa*hpo4 + kMgP*fMg*hpo4 + kCaP2*fCa + kMgP2*fMg) // free H2PO4
		var co2 float64
		if held.open {
			co2 = math.Pow(10, e.henry-g[spCO2]) * held.pressure
		} else {
			co2 = held.total / (1 + r + r*r2 + (kCaC*fCa+kMgC*fMg)*r)
		}
		hco3 := co2 * r
		nextCa := ca / (1 + kCaS*fSO4 + kCaP*p*hpo4 + kCaP2*p + kCaC*hco3)
		nextMg := mg / (1 + kMgS*fSO4 + kMgP*p*hpo4 + kMgP2*p + kMgC*hco3)
		nextK := k / (1 + kKS*fSO4)
		s.conc[spCa], s.conc[spMg], s.conc[spK] = (fCa+nextCa)/2, (fMg+nextMg)/2, (fK+nextK)/2
		fCa, fMg, fK = s.conc[spCa], s.conc[spMg], s.conc[spK]
		s.conc[spSO4], s.conc[spHSO4] = fSO4, bis*fSO4
		s.conc[spCaSO4], s.conc[spMgSO4], s.conc[spKSO4] = kCaS*fCa*fSO4, kMgS*fMg*fSO4, kKS*fK*fSO4
		s.conc[spH2PO4], s.conc[spHPO4], s.conc[spPO4], s.conc[spH3PO4] = p, p*hpo4, p*po4, p*h3po4
		s.conc[spCaHPO4], s.conc[spMgHPO4] = kCaP*fCa*p*hpo4, kMgP*fMg*p*hpo4
		s.conc[spCaH2PO4], s.conc[spMgH2PO4] = kCaP2*fCa*p, kMgP2*fMg*p
		s.conc[spCO2], s.conc[spHCO3], s.conc[spCO3] = co2, hco3, hco3*r2
		s.conc[spCaHCO3], s.conc[spMgHCO3] = kCaC*fCa*hco3, kMgC*fMg*hco3
		nh3 := acid(e.ammonia, spNH4, spNH3)
		s.conc[spNH4] = tot(Ammonium) / (1 + nh3)
		s.conc[spNH3] = s.conc[spNH4] * nh3
		s.conc[spNO3], s.conc[spCl], s.conc[spNa], s.conc[spMetal] = tot(Nitrate), tot(Chlorine), tot(Sodium), metal
		s.conc[spH], s.conc[spOH] = h/math.Pow(10, g[spH]), math.Pow(10, e.water-g[spOH])/h
		s.carbon = co2 + hco3 + hco3*r2 + s.conc[spCaHCO3] + s.conc[spMgHCO3]
		sum := 0.0
		for j, f := range speciesFacts {
			sum += f.z * f.z * s.conc[j]
		}
		next := min(sum/2, 20)
		if math.Abs(next-strength) < 1e-10+1e-7*strength && turn > 3 && math.Abs(nextCa-fCa)+math.Abs(nextMg-fMg) < 1e-7*(ca+mg)+1e-14 {
			strength = next
			break
		}
		strength += (next - strength) * 0.7
	}
	s.strength = strength
	return s
}

// alkalinity of a state in mol/L, against CO2, H2PO4⁻ and NH4⁺.
func (s *state) alkalinity() float64 {
	c := &s.conc
	return c[spHCO3] + 2*c[spCO3] + c[spCaHCO3] + c[spMgHCO3] + c[spHPO4] + 2*c[spPO4] + c[spCaHPO4] + c[spMgHPO4] - c[spH3PO4] - c[spHSO4] + c[spNH3] + c[spOH] - c[spH]
}

// Ends of the pH that is sought.
const lowestPH, highestPH = 0.5, 13.0

// settle finds the pH at which a solution has an alkalinity (mol/L): halving first, then false
// position with Illinois' halving of the end that stays. Alkalinity rises with pH.
func (e *equilibrium) settle(a *Amounts, alk float64, held carbonate) (ph float64, s state) {
	const (
		halvings = 6
		most     = 60
		good     = 1e-10 // mol/L
	)
	s = e.speciate(a, 7, held, nil)
	miss := func(ph float64) float64 {
		s = e.speciate(a, ph, held, &s)
		return s.alkalinity() - alk
	}
	low, high := float64(lowestPH), float64(highestPH)
	for range halvings {
		mid := (low + high) / 2
		if miss(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
	}
	fl, fh := miss(low), miss(high)
	if fl >= 0 {
		return low, e.speciate(a, low, held, &s)
	}
	if fh <= 0 {
		return high, e.speciate(a, high, held, &s)
	}
	side := 0
	for range most {
		ph = (fl*high - fh*low) / (fl - fh)
		if !(ph > low && ph < high) {
			ph = (low + high) / 2
		}
		f := miss(ph)
		switch {
		case math.Abs(f) < good || high-low < 1e-9:
			return ph, s
		case f < 0:
			low, fl = ph, f
			if side == -1 {
				fh /= 2
			}
			side = -1
		default:
			high, fh = ph, f
			if side == 1 {
				fl /= 2
			}
			side = 1
		}
	}
	return ph, s
}
