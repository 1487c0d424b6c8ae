package nutrients

import (
	"fmt"
	"strings"
)

// An Ion is what a feed is counted in: an element, nitrogen in its two forms.
type Ion int

// The ions, in the order of tables.
const (
	Nitrate  Ion = iota // nitrogen as nitrate
	Ammonium            // nitrogen as ammonium
	Phosphorus
	Potassium
	Calcium
	Magnesium
	Sulfur // as sulfate
	Iron
	Manganese
	Zinc
	Boron
	Copper
	Molybdenum
	Silicon
	Sodium
	Chlorine // as chloride
	Ions     // how many there are
)

// An ion's facts.
type ionFacts struct {
	symbol, name string
	element      string
	charge       float64 // as it is counted for the balance, see [Amounts.Charge]
}

var facts = [Ions]ionFacts{
	Nitrate: {"NO3-N", "nitrate nitrogen", "N", -1}, Ammonium: {"NH4-N", "ammonium nitrogen", "N", 1}, Phosphorus: {"P", "phosphorus", "P", -1},
	Potassium: {"K", "potassium", "K", 1}, Calcium: {"Ca", "calcium", "Ca", 2}, Magnesium: {"Mg", "magnesium", "Mg", 2}, Sulfur: {"S", "sulfur", "S", -2},
	Iron: {"Fe", "iron", "Fe", 0}, Manganese: {"Mn", "manganese", "Mn", 2}, Zinc: {"Zn", "zinc", "Zn", 2}, Boron: {"B", "boron", "B", 0},
	Copper: {"Cu", "copper", "Cu", 2}, Molybdenum: {"Mo", "molybdenum", "Mo", -2}, Silicon: {"Si", "silicon", "Si", 0}, Sodium: {"Na", "sodium", "Na", 1}, Chlorine: {"Cl", "chloride", "Cl", -1},
}

// String is the symbol: "NO3-N", "K".
func (i Ion) String() string { return facts[i].symbol }

// Name is the ion in words.
func (i Ion) Name() string { return facts[i].name }

// Micro says that plants need little of it: it is given in µmol/L.
func (i Ion) Micro() bool { return i >= Iron && i <= Molybdenum }

// Nutrient says that a recipe asks for it.
func (i Ion) Nutrient() bool { return i < Sodium }

// Mass is the mass of a millimole in mg: of nitrogen, phosphorus, sulfur as the element.
func (i Ion) Mass() float64 { return atomic[facts[i].element] }

// Charge is the charge of one ion as it is counted in [Amounts.Charge].
func (i Ion) Charge() float64 { return facts[i].charge }

// ParseIon reads a symbol or a name in any case: "Ca", "calcium", "nitrate", "NO3-N", "NO3".
func ParseIon(text string) (Ion, bool) {
	word := strings.ToLower(strings.TrimSpace(text))
	for i := range Ions {
		f := facts[i]
		if word == strings.ToLower(f.symbol) || word == f.name || word == strings.TrimSuffix(f.name, " nitrogen") || word == strings.ToLower(strings.TrimSuffix(f.symbol, "-N")) {
			return i, true
		}
	}
	switch word {
	case "sulphur", "sulfate", "sulphate", "so4":
		return Sulfur, true
	case "phosphate":
		return Phosphorus, true
	}
	return 0, false
}

// atomic are abridged standard atomic weights, g/mol (IUPAC2021).
var atomic = map[string]float64{
	"H": 1.0080, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "Mg": 24.305, "Si": 28.085, "P": 30.974, "S": 32.06,
	"Cl": 35.45, "K": 39.098, "Ca": 40.078, "Mn": 54.938, "Fe": 55.845, "Cu": 63.546, "Zn": 65.38, "Mo": 95.95,
}

// AtomicWeight is the abridged standard atomic weight of an element in g/mol (IUPAC2021);
// false for elements that no feed holds.
func AtomicWeight(symbol string) (float64, bool) { w, ok := atomic[symbol]; return w, ok }

// maxAtoms bounds what a formula may hold, so that no formula can overflow.
const maxAtoms = 1e6

// Formula counts the atoms of a chemical formula with parentheses and water of crystals:
// "Ca(NO3)2.4H2O". A point or a middle dot parts the salt from its water, with a number
// before it.
func Formula(text string) (map[string]float64, error) {
	atoms := map[string]float64{}
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == '.' || r == '·' }) {
		n, rest := leading(part)
		p := formula{text: rest}
		inner, err := p.group(0)
		if err == nil && p.at < len(rest) {
			err = fmt.Errorf("nutrients: the formula %q has a parenthesis too many", text)
		}
		if err != nil {
			return nil, err
		}
		for e, k := range inner {
			if atoms[e] += n * k; atoms[e] > maxAtoms {
				return nil, fmt.Errorf("nutrients: the formula %q has too many atoms", text)
			}
		}
	}
	if len(atoms) == 0 {
		return nil, fmt.Errorf("nutrients: %q is no formula; write for example Ca(NO3)2.4H2O", text)
	}
	return atoms, nil
}

// leading is the whole number at the start of a text, 1 if there is none, and the rest.
func leading(text string) (float64, string) {
	i, n := 0, 0.0
	for i < len(text) && text[i] >= '0' && text[i] <= '9' {
		n = min(n*10+float64(text[i]-'0'), maxAtoms)
		i++
	}
	if i == 0 {
		return 1, text
	}
	return n, text[i:]
}

type formula struct {
	text string
	at   int
}

func (p *formula) number() float64 {
	n, rest := leading(p.text[p.at:])
	p.at = len(p.text) - len(rest)
	return n
}

func (p *formula) group(depth int) (map[string]float64, error) {
	out := map[string]float64{}
	if depth > 8 {
		return nil, fmt.Errorf("nutrients: the formula %q is nested too deep", p.text)
	}
	for p.at < len(p.text) && p.text[p.at] != ')' {
		c := p.text[p.at]
		switch {
		case c == '(':
			p.at++
			inner, err := p.group(depth + 1)
			if err != nil {
				return nil, err
			}
			if p.at >= len(p.text) {
				return nil, fmt.Errorf("nutrients: the formula %q lacks a parenthesis", p.text)
			}
			p.at++
			n := p.number()
			for e, k := range inner {
				out[e] = min(out[e]+n*k, 2*maxAtoms)
			}
		case c >= 'A' && c <= 'Z':
			end := p.at + 1
			if end < len(p.text) && p.text[end] >= 'a' && p.text[end] <= 'z' {
				end++
			}
			e := p.text[p.at:end]
			if _, ok := atomic[e]; !ok {
				return nil, fmt.Errorf("nutrients: %q in the formula %q is no element that a feed holds", e, p.text)
			}
			p.at = end
			out[e] = min(out[e]+p.number(), 2*maxAtoms)
		default:
			return nil, fmt.Errorf("nutrients: %q does not belong into the formula %q", string(c), p.text)
		}
	}
	return out, nil
}

// MolarMass is that of a formula in g/mol.
func MolarMass(text string) (float64, error) {
	atoms, err := Formula(text)
	if err != nil {
		return 0, err
	}
	sum := 0.0
	for e, n := range atoms {
		sum += n * atomic[e]
	}
	return sum, nil
}

// Amounts are amounts by ion, mmol/L in a solution, mmol/g or mmol/mL in a product.
type Amounts [Ions]float64

// Plus adds k times other amounts.
func (a Amounts) Plus(k float64, b Amounts) Amounts {
	for i := range a {
		a[i] += k * b[i]
	}
	return a
}

// Times multiplies.
func (a Amounts) Times(k float64) Amounts {
	for i := range a {
		a[i] *= k
	}
	return a
}

// MgL are the amounts of a solution as mg of the element in a litre.
func (a Amounts) MgL(i Ion) float64 { return a[i] * i.Mass() }

// Cations and anions in meq/L, phosphorus as H2PO4⁻. Iron (mostly chelated), boron and
// silicon are not counted.
func (a Amounts) Cations() float64 { return a.charges(1) }

// Anions is the sum of the anions in meq/L, without bicarbonate; see [Amounts.Cations].
func (a Amounts) Anions() float64 { return a.charges(-1) }

func (a Amounts) charges(sign float64) float64 {
	sum := 0.0
	for i := range Ions {
		if z := i.Charge() * sign; z > 0 {
			sum += z * a[i]
		}
	}
	return sum
}

// Charge is cations less anions in meq/L. In a true solution it is the alkalinity, against
// CO2, H2PO4⁻, NH4⁺ and H3BO3 as the level of zero: what is left for bicarbonate.
func (a Amounts) Charge() float64 { return a.Cations() - a.Anions() }

// TotalN is nitrogen in both forms, mmol/L.
func (a Amounts) TotalN() float64 { return a[Nitrate] + a[Ammonium] }
