package nutrients

import (
	"cmp"
	"math"
	"slices"
)

// A Concentrate asks for stock solutions.
type Concentrate struct {
	Factor float64 // a litre of stock makes this many litres of feed
	Litres float64 // of each tank
	C      float64 // the coldest that the tanks get, °C
	One    bool    // all in one tank
}

// A Part is one tank, or what stands beside the tanks.
type Part struct {
	Name    string    // A, B, or empty where all is in one
	Amount  []float64 // of each product in the whole part, g or mL
	Stock   Solution  // what stands in it
	PH      float64
	EC      float64 // mS/cm at 25 °C; of a stock far beyond what the model is made for
	Checks  []Check
	Largest float64 // factor up to which nothing is expected to fall out; +Inf: beyond 1000
}

// A Check is one way in which a stock can fall out.
type Check struct {
	What    string
	Ratio   float64 // saturation: 1 and more falls out. For a soluble salt the amount over its solubility
	Kind    CheckKind
	Product int  // of ByAmount, index of the product
	Doubt   bool // rests on a remembered or assumed solubility
}

// A CheckKind is how a check is made.
type CheckKind string

// The kinds of checks.
const (
	ByActivity CheckKind = "activity" // ion activities against a solubility product
	ByAmount   CheckKind = "amount"   // grams in a litre against the solubility of the pure salt
	ByProduct  CheckKind = "product"  // concentrations of two ions against those of the pure salt's saturation
)

// Stocks puts a mix into tanks: calcium and chelates into A, phosphate and sulfate into B, what
// may go into either where less stands. Acids and bases go into neither: acid breaks chelates in A,
// and both are dosed by the pH. apart holds them, in g or mL for the feed that a tank makes.
func (p *Problem) Stocks(m *Mix, c Concentrate) (parts []Part, apart []float64) {
	n := len(p.Products)
	apart = make([]float64, n)
	grams := [2]float64{}
	where := make([]int, n)
	var free []int
	for k := range p.Products {
		where[k] = -1
		if m.Amount[k] == 0 {
			continue
		}
		mass := m.Amount[k] * max(p.Products[k].Density, 1)
		switch t := p.tank(k); {
		case t == BaseTank || t == NoTank || p.acidic(k):
			apart[k] = m.Amount[k] * c.Factor * c.Litres
			continue
		case t == TankA || c.One:
			where[k] = 0
		case t == TankB:
			where[k] = 1
		default:
			free = append(free, k)
			continue
		}
		grams[where[k]] += mass
	}
	slices.SortStableFunc(free, func(a, b int) int { return cmp.Compare(m.Amount[b], m.Amount[a]) })
	for _, k := range free {
		to := 0
		ions, _ := p.Products[k].Contents()
		if grams[1] < grams[0] && ions[Ammonium] == 0 { // ammonium stays away from phosphate and magnesium
			to = 1
		}
		where[k] = to
		grams[to] += m.Amount[k] * max(p.Products[k].Density, 1)
	}
	names := []string{"A", "B"}
	if c.One {
		names = []string{""}
	}
	for t, name := range names {
		part := Part{Name: name, Amount: make([]float64, n)}
		perLitre := make([]float64, n)
		any := false
		for k := range p.Products {
			if where[k] == t {
				perLitre[k] = m.Amount[k]
				part.Amount[k] = m.Amount[k] * c.Factor * c.Litres
				any = true
			}
		}
		if !any {
			continue
		}
		p.look(&part, perLitre, c)
		parts = append(parts, part)
	}
	return parts, apart
}

// tank is where a product goes by its substance, or by its label.
func (p *Problem) tank(k int) Tank {
	if s := p.Products[k].Substance; s != nil {
		return s.Tank
	}
	ions, _ := p.Products[k].Contents()
	switch ca, ps := ions[Calcium] > 0, ions[Phosphorus]+ions[Sulfur] > 0; {
	case ca && ps:
		return NoTank
	case ca:
		return TankA
	case ps:
		return TankB
	}
	return AnyTank
}

func (p *Problem) acidic(k int) bool {
	s := p.Products[k].Substance
	return s != nil && (s.Kind == Acid || s.Kind == Base)
}

// look checks a tank and seeks the factor up to which it stays clear.
func (p *Problem) look(part *Part, perLitre []float64, c Concentrate) {
	part.Stock, part.PH, part.EC, part.Checks = p.stock(perLitre, c.Factor, c.C)
	clear := func(f float64) bool {
		_, _, _, checks := p.stock(perLitre, f, c.C)
		return !slices.ContainsFunc(checks, func(x Check) bool { return x.Ratio > 1 })
	}
	// From the factor that is asked for upward, or downward: near 1 a stock is tap water with its
	// alkalinity, which is another matter.
	const most = 1000.0
	low, high := c.Factor, most
	switch {
	case !clear(c.Factor):
		low, high = 1, c.Factor
		if !clear(low) {
			part.Largest = 0
			return
		}
	case clear(most):
		part.Largest = math.Inf(1)
		return
	}
	for high/low > 1.02 {
		mid := math.Sqrt(low * high)
		if clear(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	part.Largest = low
}

// stock is a concentrate at a factor, and how near each of its salts is to falling out.
func (p *Problem) stock(perLitre []float64, factor, c float64) (s Solution, ph, ec float64, checks []Check) {
	s = p.Water
	s.C = c
	for k := range p.Products {
		if perLitre[k] > 0 {
			ions, base := p.Products[k].Contents()
			s.Ions = s.Ions.Plus(perLitre[k]*factor, ions)
			s.Alkalinity += base * perLitre[k] * factor
		}
	}
	r := s.Open(AirCO2)
	for _, x := range []struct {
		what  string
		ratio float64
	}{{"gypsum, CaSO4·2H2O", r.Gypsum}, {"calcium hydrogen phosphate, CaHPO4·2H2O", r.Brushite}, {"struvite, MgNH4PO4·6H2O", r.Struvite}} {
		if x.ratio > 0.01 {
			checks = append(checks, Check{What: x.what, Ratio: x.ratio, Kind: ByActivity})
		}
	}
	for k := range p.Products {
		sub := p.Products[k].Substance
		if perLitre[k] == 0 || sub == nil || p.Products[k].Liquid() {
			continue
		}
		at := sub.SolubilityAt(c)
		if !(at > 0) {
			continue
		}
		checks = append(checks, Check{What: sub.Name, Ratio: perLitre[k] * factor * p.Products[k].Purity / at, Kind: ByAmount, Product: k, Doubt: sub.FromMemory || len(sub.Solubility) == 1 && c < sub.Solubility[0].C})
	}
	for _, pair := range []struct {
		salt   string
		a, b   Ion
		na, nb float64
	}{{"potassium nitrate", Potassium, Nitrate, 1, 1}, {"potassium sulfate", Potassium, Sulfur, 2, 1}, {"monopotassium phosphate", Potassium, Phosphorus, 1, 1}, {"monoammonium phosphate", Ammonium, Phosphorus, 1, 1}} {
		sub, err := Find(pair.salt)
		if err != nil || s.Ions[pair.a] <= 0 || s.Ions[pair.b] <= 0 {
			continue
		}
		full := 1000 * sub.SolubilityAt(c) / sub.Molar // mmol/L of the pure salt
		ratio := math.Pow(math.Pow(s.Ions[pair.a]/(pair.na*full), pair.na)*math.Pow(s.Ions[pair.b]/(pair.nb*full), pair.nb), 1/(pair.na+pair.nb))
		if ratio > 0.05 {
			checks = append(checks, Check{What: pair.salt + ", by its ions", Ratio: ratio, Kind: ByProduct, Doubt: true})
		}
	}
	return s, r.PH, r.EC, checks
}

// Fallen is how much gypsum falls out of a stock until it is in balance, in mmol/L.
func Fallen(s Solution) float64 {
	low, high := 0.0, min(s.Ions[Calcium], s.Ions[Sulfur])
	left := func(x float64) float64 {
		t := s
		t.Ions[Calcium] -= x
		t.Ions[Sulfur] -= x
		return t.Open(AirCO2).Gypsum
	}
	if left(0) <= 1 {
		return 0
	}
	for range 40 {
		mid := (low + high) / 2
		if left(mid) > 1 {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// A DryPart is a dry blend: grams of each product in a kilogram, and grams of the blend for a
// litre of feed.
type DryPart struct {
	Name     string // 1, 2
	PerKg    []float64
	PerLitre float64
}

// Dry parts a mix into blends to be weighed by the batch: calcium salts and chelates apart from
// the rest, as they draw water and would cake and react. Liquids and acids cannot go in; their
// indices come back.
func (p *Problem) Dry(m *Mix) (parts []DryPart, wet []int) {
	n := len(p.Products)
	sums := [2]float64{}
	grams := [2][]float64{make([]float64, n), make([]float64, n)}
	for k, a := range m.Amount {
		switch t := p.tank(k); {
		case a == 0:
		case p.Products[k].Liquid() || p.acidic(k):
			wet = append(wet, k)
		case t == TankA:
			grams[0][k], sums[0] = a, sums[0]+a
		default:
			grams[1][k], sums[1] = a, sums[1]+a
		}
	}
	for t, name := range []string{"1", "2"} {
		if sums[t] == 0 {
			continue
		}
		d := DryPart{Name: name, PerKg: make([]float64, n), PerLitre: sums[t]}
		for k, g := range grams[t] {
			d.PerKg[k] = 1000 * g / sums[t]
		}
		parts = append(parts, d)
	}
	return parts, wet
}
