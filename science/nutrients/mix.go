package nutrients

import (
	"cmp"
	"math"
	"slices"

	"underlamp/science/lightaim"
)

// A Target is what the feed shall hold.
type Target struct {
	Ions Amounts       // mmol/L
	Asks [Ions]bool    // which of them are asked for; others may be anything
	Most [Ions]float64 // most of what is not asked for (sodium, chloride), mmol/L; 0: no limit
	PH   float64       // of the feed in balance with air; 0: not asked for

	Tolerance [Ions]float64 // share of the wanted amount; 0: the usual one, see [Target.Within]
	Weight    [Ions]float64 // how much a deviation counts; 0: the usual weight
}

// TargetOf is a recipe at a strength: 0.5 is half of it.
func TargetOf(r Recipe, strength, ph float64) Target {
	return Target{Ions: r.Amounts.Times(strength), Asks: r.Asks, PH: ph}
}

// Usual tolerances and weights (assumed, no source): growers accept sulfur widely, as lettuce
// takes what it needs of much or little, and micronutrients by a tenth.
func usual(i Ion) (tolerance, weight float64) {
	switch {
	case i == Sulfur:
		return 0.3, 0.3
	case i == Ammonium:
		return 0.2, 0.5
	case i.Micro():
		return 0.1, 0.5
	case !i.Nutrient() || i == Silicon:
		return 0.2, 0.3
	}
	return 0.05, 1
}

// Within is how far the feed may be from the wanted amount, mmol/L: 5 % of a macronutrient, 10 %
// of a micronutrient, 30 % of sulfur, 20 % of ammonium and at least 3 % of all nitrogen.
func (t *Target) Within(i Ion) float64 {
	share, _ := usual(i)
	if t.Tolerance[i] > 0 {
		share = t.Tolerance[i]
	}
	within := share * t.Ions[i]
	if i == Ammonium && t.Tolerance[i] == 0 {
		within = max(within, 0.03*t.Ions.TotalN())
	}
	return within
}

// per is the deviation that counts as one, mmol/L.
func (t *Target) per(i Ion) float64 {
	floor := 1e-4
	switch {
	case i == Ammonium || i == Nitrate:
		floor = 0.05 * max(t.Ions.TotalN(), 0.1)
	case !i.Micro():
		floor = 0.1
	}
	return max(t.Ions[i], floor)
}

func (t *Target) weight(i Ion) float64 {
	if t.Weight[i] > 0 {
		return t.Weight[i]
	}
	_, w := usual(i)
	return w
}

// A Problem is a target, the water and the cupboard.
type Problem struct {
	Target   Target
	Water    Solution
	Products []Product
	// Cheapest asks for the least cost within tolerance in place of the closest mix. All products
	// must be priced.
	Cheapest bool
}

// A Deviation is an ion whose amount is beyond its tolerance.
type Deviation struct {
	Ion       Ion
	Want, Got float64 // mmol/L
	Within    float64
	Water     float64 // what the water alone brings
	Cause     Cause
	With      []Ion // for Coupled: what else the products bring that hold the ion
}

// A Cause tells why an ion cannot be met.
type Cause string

// The causes.
const (
	TooMuchInWater Cause = "water"   // the water alone brings more
	NoSource       Cause = "none"    // no product holds it
	Coupled        Cause = "coupled" // the products that hold it bring too much of something else
	Limited        Cause = "limit"   // a product's own limit stops it
)

// A Mix is what to weigh.
type Mix struct {
	Amount   []float64 // of each product in a litre of feed, g or mL
	Solution Solution  // the feed
	Reading  Reading   // in balance with air
	Off      []Deviation
	Over     []Ion   // not asked for, and above their limit
	Cost     float64 // money for a litre; NaN where a product that is used has no price
	Squares  float64 // what least squares lessens, for comparing
	// PHOff says that the pH in balance with air is not within 0.2 of what is asked for.
	PHOff bool
}

// phWithin is how far the pH may be.
const phWithin = 0.2

// alkScale is the deviation of alkalinity that counts as one, meq/L.
const alkScale = 0.5

// system is a problem in the shape of programs.
type system struct {
	p     *Problem
	ions  []Amounts // of a unit of each product
	base  []float64
	scale []float64 // a unit of the unknowns, g or mL
	rows  []Ion     // asked for
	limit []Ion     // with a Most
	ph    bool      // the pH is asked for and something can turn it
	alk0  float64   // alkalinity at the pH wanted, without phosphate; and for each mmol of phosphorus
	alkP  float64
}

func newSystem(p *Problem) *system {
	s := &system{p: p}
	acids := false
	for k := range p.Products {
		ions, base := p.Products[k].Contents()
		s.ions, s.base = append(s.ions, ions), append(s.base, base)
		acids = acids || math.Abs(base) > 0
		size := math.Abs(base) / alkScale
		for i := range Ions {
			if p.Target.Asks[i] {
				size = max(size, ions[i]/p.Target.per(i))
			}
		}
		if size == 0 {
			size = 1
		}
		s.scale = append(s.scale, 1/size)
	}
	for i := range Ions {
		switch {
		case p.Target.Asks[i]:
			s.rows = append(s.rows, i)
		case p.Target.Most[i] > 0:
			s.limit = append(s.limit, i)
		}
	}
	if s.ph = p.Target.PH > 0 && acids; s.ph {
		at := Solution{Ions: p.Water.Ions, C: p.Water.C}
		for i := range Ions {
			if p.Target.Asks[i] {
				at.Ions[i] = max(p.Target.Ions[i], p.Water.Ions[i])
			}
		}
		all := at.AlkalinityAt(p.Target.PH)
		phosphorus := at.Ions[Phosphorus]
		at.Ions[Phosphorus] = 0
		s.alk0 = at.AlkalinityAt(p.Target.PH)
		if phosphorus > 0 {
			s.alkP = (all - s.alk0) / phosphorus
		}
	}
	return s
}

// low and high are the bounds of the scaled unknowns.
func (s *system) bounds() (low, high []float64) {
	for k, p := range s.p.Products {
		h := math.Inf(1)
		if p.Most > 0 {
			h = p.Most / s.scale[k]
		}
		low, high = append(low, 0), append(high, h)
	}
	return low, high
}

// row is what the scaled unknowns bring of an ion.
func (s *system) row(i Ion, per float64) []float64 {
	out := make([]float64, len(s.ions))
	for k := range s.ions {
		out[k] = s.ions[k][i] * s.scale[k] / per
	}
	return out
}

func (s *system) alkRow() []float64 {
	out := make([]float64, len(s.ions))
	for k := range s.ions {
		out[k] = (s.base[k] - s.alkP*s.ions[k][Phosphorus]) * s.scale[k]
	}
	return out
}

// alkWant is what the products must bring of [system.alkRow].
func (s *system) alkWant() float64 {
	return s.alk0 + s.alkP*s.p.Water.Ions[Phosphorus] - s.p.Water.Alkalinity
}

// limits are the rows of what must not be too much; where the water alone has more, nothing
// may be added.
func (s *system) limits() []lightaim.Row {
	var out []lightaim.Row
	for _, i := range s.limit {
		most := s.p.Target.Most[i]
		out = append(out, lightaim.Row{Coef: s.row(i, most), Low: math.Inf(-1), High: max(1-s.p.Water.Ions[i]/most, 0)})
	}
	return out
}

// closest is the least weighted squares.
func (s *system) closest() lightaim.QuadraticResult {
	q := lightaim.Quadratic{Ridge: 1e-7, Near: make([]float64, len(s.ions)), Rows: s.limits()}
	q.Low, q.High = s.bounds()
	t := &s.p.Target
	for _, i := range s.rows {
		per := t.per(i) / math.Sqrt(t.weight(i))
		q.J = append(q.J, s.row(i, per))
		q.To = append(q.To, (t.Ions[i]-s.p.Water.Ions[i])/per)
	}
	if s.ph {
		r := s.alkRow()
		for k := range r {
			r[k] /= alkScale
		}
		q.J, q.To = append(q.J, r), append(q.To, s.alkWant()/alkScale)
	}
	return q.Solve()
}

// cheapest is the least cost within tolerance; where the closest mix x misses more than that,
// as far as it does.
func (s *system) cheapest(x []float64) lightaim.LinearResult {
	l := lightaim.Linear{Rows: s.limits()}
	l.Low, l.High = s.bounds()
	for k, p := range s.p.Products {
		l.Cost = append(l.Cost, p.Price*s.scale[k]/1000)
	}
	band := func(row []float64, want, within float64) {
		got := dot(row, x)
		miss := math.Abs(got-want) * (1 + 1e-9)
		within = max(within, miss) + 1e-9
		l.Rows = append(l.Rows, lightaim.Row{Coef: row, Low: want - within, High: want + within})
	}
	t := &s.p.Target
	for _, i := range s.rows {
		per := t.per(i)
		band(s.row(i, per), (t.Ions[i]-s.p.Water.Ions[i])/per, t.Within(i)/per)
	}
	if s.ph {
		band(s.alkRow(), s.alkWant(), 0.03)
	}
	return l.Solve()
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// Solve finds what to weigh: the weighted least squares of the deviations with no amount
// below 0,
//
//	minimise Σ w_i ((c_i − c_i*) / c_i*)² + ((A − A*) / 0.5 meq/L)²,  0 ≤ x ≤ most
//
// c_i the amounts in the feed, A its alkalinity and A* that of the wanted pH in balance with
// air; or, if the cheapest is asked for, the least Σ price·x with every ion within its
// tolerance. It never fails: what cannot be met is in the answer.
func (p *Problem) Solve() *Mix {
	s := newSystem(p)
	r := s.closest()
	x := r.X
	if p.Cheapest && p.Priced() {
		if l := s.cheapest(x); l.Status == lightaim.Optimal {
			x = l.X
		}
	}
	amount := make([]float64, len(x))
	for k := range x {
		amount[k] = max(x[k], 0) * s.scale[k]
		if amount[k] < 1e-7 { // below a ten-thousandth of a milligram
			amount[k] = 0
		}
	}
	m := p.Weighed(amount)
	m.Squares = r.Squares
	return m
}

// Priced says that every product has a price.
func (p *Problem) Priced() bool {
	return len(p.Products) > 0 && !slices.ContainsFunc(p.Products, func(x Product) bool { return !x.Priced })
}

// Dissolved is the water with amounts of the products in each litre.
func (p *Problem) Dissolved(amount []float64) Solution {
	out := p.Water
	for k := range p.Products {
		if amount[k] == 0 {
			continue
		}
		ions, base := p.Products[k].Contents()
		out.Ions = out.Ions.Plus(amount[k], ions)
		out.Alkalinity += base * amount[k]
	}
	return out
}

// Weighed is the feed of amounts that were weighed, rounded say: what it holds and what of it
// is off.
func (p *Problem) Weighed(amount []float64) *Mix {
	m := &Mix{Amount: slices.Clone(amount), Solution: p.Dissolved(amount)}
	m.Reading = m.Solution.Open(AirCO2)
	t := &p.Target
	for k, a := range amount {
		switch {
		case a == 0:
		case !p.Products[k].Priced:
			m.Cost = math.NaN()
		default:
			m.Cost += a * p.Products[k].Price / 1000
		}
	}
	for i := range Ions {
		got := m.Solution.Ions[i]
		if !t.Asks[i] {
			if t.Most[i] > 0 && got > t.Most[i]*(1+1e-9) {
				m.Over = append(m.Over, i)
			}
			continue
		}
		if math.Abs(got-t.Ions[i]) > t.Within(i)*(1+1e-6)+1e-9 {
			m.Off = append(m.Off, p.deviation(i, got, amount))
		}
	}
	m.PHOff = t.PH > 0 && math.Abs(m.Reading.PH-t.PH) > phWithin
	return m
}

func (p *Problem) deviation(i Ion, got float64, amount []float64) Deviation {
	d := Deviation{Ion: i, Want: p.Target.Ions[i], Got: got, Within: p.Target.Within(i), Water: p.Water.Ions[i], Cause: NoSource}
	if d.Water > d.Want+d.Within {
		d.Cause = TooMuchInWater
		return d
	}
	with := [Ions]bool{}
	for k := range p.Products {
		ions, _ := p.Products[k].Contents()
		if ions[i] == 0 {
			continue
		}
		if d.Cause == NoSource {
			d.Cause = Coupled
		}
		if most := p.Products[k].Most; most > 0 && amount[k] >= most*(1-1e-6) && got < d.Want {
			d.Cause = Limited
		}
		for j := range Ions {
			with[j] = with[j] || j != i && ions[j] > 0
		}
	}
	for j := range Ions {
		if with[j] {
			d.With = append(d.With, j)
		}
	}
	return d
}

// A Remedy is a substance that the cupboard lacks.
type Remedy struct {
	Product Product
	Amount  float64 // in a litre, g or mL
	Left    []Ion   // what is still off with it
	Gains   []Ion   // what is no longer off
	Squares float64
}

// Remedies tries every known salt, chelate, base and acid that is not in the cupboard, and
// returns those that help, at most n, the best first: the one with which least is left off, then
// the one with the least squares.
func (p *Problem) Remedies(m *Mix, n int) []Remedy {
	if len(m.Off) == 0 && !m.PHOff {
		return nil
	}
	wrong := map[Ion]bool{}
	for _, d := range m.Off {
		wrong[d.Ion] = true
	}
	var out []Remedy
	all := substances()
	for k := range all {
		s := &all[k]
		if s.Tank == NoTank || slices.ContainsFunc(p.Products, func(x Product) bool { return x.Substance != nil && x.Substance.Name == s.Name }) {
			continue
		}
		extra := Usual(s)
		ions, base := extra.Contents()
		helps := m.PHOff && (base < 0) == (m.Reading.PH > p.Target.PH) && base != 0
		for _, d := range m.Off {
			helps = helps || ions[d.Ion] > 0 && d.Got < d.Want || d.Got > d.Want // another source may take the place of one that brings too much
		}
		if !helps {
			continue
		}
		q := *p
		q.Cheapest = false
		q.Products = append(slices.Clone(p.Products), extra)
		got := q.Solve()
		if got.Squares > 0.9*m.Squares && !(m.PHOff && !got.PHOff) || got.Amount[len(p.Products)] == 0 {
			continue
		}
		r := Remedy{Product: extra, Amount: got.Amount[len(p.Products)], Squares: got.Squares}
		still := map[Ion]bool{}
		for _, d := range got.Off {
			still[d.Ion] = true
			r.Left = append(r.Left, d.Ion)
		}
		for _, d := range m.Off {
			if !still[d.Ion] {
				r.Gains = append(r.Gains, d.Ion)
			}
		}
		if len(r.Gains) == 0 && !(m.PHOff && !got.PHOff) {
			continue
		}
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b Remedy) int {
		if c := cmp.Compare(len(a.Left), len(b.Left)); c != 0 {
			return c
		}
		return cmp.Compare(a.Squares, b.Squares)
	})
	return out[:min(len(out), n)]
}

// Usual is a substance as it is commonly sold: a salt pure, a chelate with the share of metal
// that its labels have (EDTA 13, DTPA 11, EDDHA 6 %, remembered; other metals 14 %), an acid
// diluted.
func Usual(s *Substance) Product {
	p := Product{Name: s.Name, Substance: s, Purity: 1}
	switch s.Kind {
	case Chelate:
		share := 0.14
		for name, v := range map[string]float64{"iron EDTA": 0.13, "iron DTPA": 0.11, "iron EDDHA": 0.06} {
			if s.Name == name {
				share = v
			}
		}
		for i := range Ions {
			if s.PerMol[i] > 0 {
				p.Label[i], p.Labelled[i] = share, true
			}
		}
		p.Guess = "the share of metal, which its label gives"
	case Acid:
		p.Purity = 0.38
		if s.Name == "phosphoric acid" {
			p.Purity = 0.59
		}
		if s.Name == "citric acid" {
			p.Purity = 1
			return p
		}
		p.Guess = "its strength, which its label gives"
		if d, ok := AcidDensity(s.Name, p.Purity); ok {
			p.Density = d
		} else {
			p.Density = 1.19
		}
	}
	return p
}
