package nutrients

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
)

//go:embed data/substances.csv
var substancesCSV string

//go:embed data/acids.csv
var acidsCSV string

// A Tank tells with what a substance may stand in a concentrate.
type Tank string

// Where a substance may go.
const (
	TankA    Tank = "A"    // with calcium: no phosphate, no sulfate
	TankB    Tank = "B"    // with phosphate and sulfate: no calcium
	AnyTank  Tank = "any"  // either
	BaseTank Tank = "base" // alone: it would raise the pH of a concentrate
	NoTank   Tank = "none" // not in a concentrate
)

// A KindOf substance.
type KindOf string

// The kinds of substances.
const (
	Salt    KindOf = "salt"
	Chelate KindOf = "chelate" // its formula says which metal; the share stands on the label
	Base    KindOf = "base"
	Acid    KindOf = "acid"
)

// A Substance is what can be bought to make a feed.
type Substance struct {
	Name    string
	Also    []string // other names, formulas
	Formula string
	Molar   float64 // g/mol
	PerMol  Amounts // mol of each ion in a mole
	Base    float64 // equivalents of alkalinity in a mole; negative for acids
	Tank    Tank
	Kind    KindOf
	Caution string // oxidiser, caustic, acid; empty: none

	Solubility []Soluble // by temperature, rising; empty: not known
	FromMemory bool      // the solubility is remembered, not read
}

// Soluble is the solubility at a temperature.
type Soluble struct{ C, GramL float64 }

// SolubilityAt is the solubility in g of the solid in a litre of water at a temperature,
// straight between and beyond the printed ones. With one printed value it falls by 2 % for each
// degree below (assumed, no source) and does not rise above it. NaN where none is known.
func (s *Substance) SolubilityAt(c float64) float64 {
	n := len(s.Solubility)
	switch n {
	case 0:
		return math.NaN()
	case 1:
		return s.Solubility[0].GramL * min(1, max(0.3, 1-0.02*(s.Solubility[0].C-c)))
	}
	k := 1
	for k < n-1 && c > s.Solubility[k].C {
		k++
	}
	a, b := s.Solubility[k-1], s.Solubility[k]
	return max(0.2*a.GramL, a.GramL+(c-a.C)*(b.GramL-a.GramL)/(b.C-a.C))
}

// ErrWhichCalciumNitrate asks which of the calcium nitrates is meant: the same grams hold 17.0
// and 18.5 % of calcium, 11.9 and 15.6 % of nitrogen.
var ErrWhichCalciumNitrate = errors.New("there are several calcium nitrates and the same grams of them differ: write calcium nitrate tetrahydrate (its bag says 11.9 % N, 17 % Ca), or calcium nitrate 15.5-0-0 (15.5 % N of which 1.1 % ammonium, 19 % Ca), or calcium nitrate anhydrous")

// ErrWhichZincSulfate asks for the water of zinc sulfate, of which both grades are sold.
var ErrWhichZincSulfate = errors.New("there are two zinc sulfates: write zinc sulfate heptahydrate (22.7 % Zn) or zinc sulfate monohydrate (36.4 % Zn)")

// ErrWhichChelate asks which chelate is meant.
var ErrWhichChelate = errors.New("there are several iron chelates: write iron DTPA, iron EDTA or iron EDDHA, with the share of iron from its label (metal: 11 %)")

var substances = sync.OnceValue(func() []Substance {
	out, err := parseSubstances(substancesCSV)
	if err != nil {
		panic("nutrients: " + err.Error())
	}
	return out
})

// Substances are all that are known, in the order of tables.
func Substances() []Substance { return slices.Clone(substances()) }

// Find is a substance by name or formula. The errors ask for what cannot be guessed.
func Find(name string) (*Substance, error) {
	word := plain(name)
	all := substances()
	for k := range all {
		if plain(all[k].Name) == word {
			return &all[k], nil
		}
		for _, a := range all[k].Also {
			if plain(a) == word {
				return &all[k], nil
			}
		}
	}
	switch word {
	case "calcium nitrate", "nitrate of lime", "cano3":
		return nil, ErrWhichCalciumNitrate
	case "zinc sulfate", "zinc sulphate", "znso4":
		return nil, ErrWhichZincSulfate
	case "iron chelate", "chelated iron", "iron":
		return nil, ErrWhichChelate
	}
	return nil, fmt.Errorf("%q is no salt or acid that is known here; give its formula, such as Ca(NO3)2.4H2O, or its label (underlamp feed substances lists those that are known)", name)
}

// plain is a name without case, middle dots and doubled blanks.
func plain(s string) string {
	s = strings.NewReplacer("·", ".", "₂", "2", "₃", "3", "₄", "4", "sulph", "sulf").Replace(strings.ToLower(s))
	return strings.Join(strings.Fields(s), " ")
}

// NewSubstance is one by its formula: nitrate and ammonium are counted by their groups. Its
// alkalinity is what keeps its charges in balance; a formula of something else than a salt
// or acid of this field gives an error.
func NewSubstance(name, text string) (*Substance, error) {
	atoms, err := Formula(text)
	if err != nil {
		return nil, err
	}
	s := Substance{Name: name, Formula: text, Tank: AnyTank, Kind: Salt}
	if s.Molar, err = MolarMass(text); err != nil {
		return nil, err
	}
	nitrate, ammonium := groups(text)
	if nitrate+ammonium != atoms["N"] {
		return nil, fmt.Errorf("nutrients: %q has nitrogen that is neither nitrate (NO3) nor ammonium (NH4)", text)
	}
	if atoms["C"] > 0 {
		return nil, fmt.Errorf("nutrients: %q holds carbon; give its label instead (for a chelate: metal)", text)
	}
	s.PerMol = perMol(atoms, nitrate, ammonium)
	if s.PerMol == (Amounts{}) {
		return nil, fmt.Errorf("nutrients: %q holds nothing that a feed is counted in", text)
	}
	s.Base = s.PerMol.Charge() + 2*s.PerMol[Iron]
	switch {
	case s.PerMol[Calcium] > 0 && (s.PerMol[Sulfur] > 0 || s.PerMol[Phosphorus] > 0):
		s.Tank = NoTank
	case s.PerMol[Calcium] > 0:
		s.Tank = TankA
	case s.PerMol[Sulfur] > 0 || s.PerMol[Phosphorus] > 0:
		s.Tank = TankB
	}
	if nitrate > 0 {
		s.Caution = "oxidiser"
	}
	return &s, nil
}

// groups counts NO3 and NH4 in a formula with their multipliers.
func groups(text string) (nitrate, ammonium float64) {
	text = strings.ReplaceAll(text, "·", ".")
	for _, g := range []struct {
		word string
		to   *float64
	}{{"NO3", &nitrate}, {"NH4", &ammonium}} {
		marked := strings.ReplaceAll(text, g.word, "Xx")
		for _, part := range strings.Split(marked, ".") {
			n, rest := leading(part)
			*g.to += n * countGroup(rest)
		}
	}
	return nitrate, ammonium
}

// countGroup counts Xx in a formula.
func countGroup(text string) float64 {
	sums := []float64{0}
	for i := 0; i < len(text); {
		switch {
		case strings.HasPrefix(text[i:], "Xx"):
			n, rest := leading(text[i+2:])
			sums[len(sums)-1] += n
			i = len(text) - len(rest)
		case text[i] == '(':
			sums = append(sums, 0)
			i++
		case text[i] == ')' && len(sums) > 1:
			n, rest := leading(text[i+1:])
			inner := sums[len(sums)-1]
			sums = sums[:len(sums)-1]
			sums[len(sums)-1] += n * inner
			i = len(text) - len(rest)
		default:
			i++
		}
	}
	return sums[0]
}

func perMol(atoms map[string]float64, nitrate, ammonium float64) Amounts {
	var a Amounts
	for i := range Ions {
		a[i] = atoms[facts[i].element]
	}
	a[Nitrate], a[Ammonium] = nitrate, ammonium
	return a
}

func parseSubstances(text string) ([]Substance, error) {
	rows, err := table(text, "name,also,formula,nitrate,ammonium,base,tank,solubility,solubility_source,kind,caution")
	if err != nil {
		return nil, err
	}
	var out []Substance
	for _, r := range rows {
		s := Substance{Name: r[0], Formula: r[2], Tank: Tank(r[6]), Kind: KindOf(r[9]), Caution: r[10], FromMemory: r[8] == "memory"}
		if r[1] != "" {
			s.Also = strings.Split(r[1], ";")
		}
		atoms, err := Formula(s.Formula)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Name, err)
		}
		var n [3]float64
		for k := range n {
			if n[k], err = strconv.ParseFloat(r[3+k], 64); err != nil {
				return nil, fmt.Errorf("%s: %w", s.Name, err)
			}
		}
		s.Molar, _ = MolarMass(s.Formula)
		s.PerMol, s.Base = perMol(atoms, n[0], n[1]), n[2]
		for _, at := range strings.FieldsFunc(r[7], func(r rune) bool { return r == ';' }) {
			var p Soluble
			if _, err := fmt.Sscanf(at, "%g:%g", &p.C, &p.GramL); err != nil {
				return nil, fmt.Errorf("%s: solubility %q: %w", s.Name, at, err)
			}
			s.Solubility = append(s.Solubility, p)
		}
		out = append(out, s)
	}
	return out, nil
}

// table reads one of the tables of this package.
func table(text, head string) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(rows) < 2 || strings.Join(rows[0], ",") != head {
		return nil, fmt.Errorf("wanted the columns %s and rows under them", head)
	}
	return rows[1:], nil
}

// A Product is a substance as it stands in the cupboard.
type Product struct {
	Name      string
	Substance *Substance // nil if the label alone says what is in it

	Purity  float64 // mass share of the substance in the product; 1 is pure. For an acid its strength
	Density float64 // g/mL of a liquid; 0: a solid, weighed
	Label   Amounts // mass share of each element by the label, in place of the formula where Labelled
	// Labelled says which ions the label gives.
	Labelled [Ions]bool

	Price float64 // money per kg of a solid, per litre of a liquid
	// Priced says that the price is known.
	Priced bool
	Most   float64 // most g or mL in a litre of feed; 0: no limit
	Guess  string  // what of it is a usual value and not from its label; empty: nothing
}

// Liquid says that it is measured by volume.
func (p *Product) Liquid() bool { return p.Density > 0 }

// Unit is the unit in which it is taken: g or mL.
func (p *Product) Unit() string {
	if p.Liquid() {
		return "mL"
	}
	return "g"
}

// Contents is what a gram, or a millilitre of a liquid, brings: mmol of each ion, and meq
// of alkalinity (negative for an acid). A label overrides the formula for the elements that it
// names; the alkalinity stays that of the substance.
func (p *Product) Contents() (ions Amounts, base float64) {
	grams := 1.0
	if p.Liquid() {
		grams = p.Density
	}
	if s := p.Substance; s != nil && s.Kind != Chelate {
		mmol := 1000 * grams * p.Purity / s.Molar
		ions, base = s.PerMol.Times(mmol), s.Base*mmol
	}
	for i := range Ions {
		if p.Labelled[i] {
			ions[i] = 1000 * grams * p.Label[i] / i.Mass()
		}
	}
	if p.Substance == nil {
		base = ions.Charge()
	}
	return ions, base
}

// AcidDensity is the density of an acid in kg/L at 20 °C by its mass share, straight between
// printed values; false beyond them and for acids without a table.
func AcidDensity(name string, share float64) (float64, bool) {
	var lastP, lastD float64
	seen := false
	for _, r := range acidTable() {
		if r.acid != name {
			continue
		}
		if seen && share*100 <= r.percent {
			return (lastD + (share*100-lastP)*(r.density-lastD)/(r.percent-lastP)) / 1000, share >= 0
		}
		lastP, lastD, seen = r.percent, r.density, true
	}
	return 0, false
}

type acidRow struct {
	acid             string
	percent, density float64
}

var acidTable = sync.OnceValue(func() []acidRow {
	rows, err := table(acidsCSV, "acid,percent,density")
	if err != nil {
		panic("nutrients: " + err.Error())
	}
	var out []acidRow
	for _, r := range rows {
		p, err1 := strconv.ParseFloat(r[1], 64)
		d, err2 := strconv.ParseFloat(r[2], 64)
		if err := errors.Join(err1, err2); err != nil {
			panic("nutrients: " + err.Error())
		}
		out = append(out, acidRow{r[0], p, d})
	}
	return out
})
