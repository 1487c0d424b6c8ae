package nutrients_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/nutrients"
)

func products(t testing.TB, names ...string) (out []nutrients.Product) {
	t.Helper()
	for _, n := range names {
		s, err := nutrients.Find(n)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, nutrients.Usual(s))
	}
	return out
}

var cupboard = []string{"calcium nitrate 15.5-0-0", "calcium nitrate tetrahydrate", "potassium nitrate", "ammonium nitrate", "monopotassium phosphate", "magnesium sulfate heptahydrate", "potassium sulfate",
	"monoammonium phosphate", "calcium chloride", "magnesium nitrate", "iron DTPA", "manganese sulfate", "boric acid", "zinc sulfate heptahydrate", "copper sulfate", "sodium molybdate", "nitric acid", "phosphoric acid", "potassium bicarbonate"}

// anyProblem is a target between weak and strong, any water that a tap gives, and some of the
// cupboard.
func anyProblem(t *rapid.T) *nutrients.Problem {
	p := &nutrients.Problem{}
	amount := func(label string, most float64) float64 { return rapid.Float64Range(0, most).Draw(t, label) }
	for i := range nutrients.Ions {
		most := 15.0
		switch {
		case i.Micro():
			most = 0.05
		case i == nutrients.Ammonium || i == nutrients.Silicon:
			most = 2
		}
		if i.Nutrient() && rapid.IntRange(0, 4).Draw(t, "asks "+i.String()) > 0 {
			p.Target.Ions[i], p.Target.Asks[i] = amount("want "+i.String(), most), true
		}
	}
	p.Target.Most[nutrients.Chlorine] = amount("limit", 3)
	p.Target.PH = rapid.SampledFrom([]float64{0, 5.5, 5.8, 6.5}).Draw(t, "ph")
	p.Water.C = rapid.Float64Range(5, 30).Draw(t, "C")
	p.Water.Ions[nutrients.Calcium], p.Water.Ions[nutrients.Sodium] = amount("water Ca", 4), amount("water Na", 4)
	p.Water.Ions[nutrients.Chlorine] = amount("water Cl", 2)
	p.Water.Alkalinity = p.Water.Ions.Charge()
	names := rapid.SliceOfNDistinct(rapid.SampledFrom(cupboard), 1, 12, rapid.ID[string]).Draw(t, "cupboard")
	for _, n := range names {
		s, err := nutrients.Find(n)
		if err != nil {
			t.Fatal(err)
		}
		x := nutrients.Usual(s)
		x.Price, x.Priced = amount("price", 10)+0.01, true
		p.Products = append(p.Products, x)
	}
	return p
}

// No mix has an amount below nothing; what is in it is what the water and the products bring;
// its charges balance; and nothing that could be weighed instead comes closer.
func TestMixProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		p.Cheapest = rapid.Bool().Draw(t, "cheapest")
		m := p.Solve()
		want, base := p.Water.Ions, p.Water.Alkalinity
		for k, a := range m.Amount {
			if !(a >= 0) || math.IsInf(a, 0) {
				t.Fatalf("%v of %s", a, p.Products[k].Name)
			}
			ions, b := p.Products[k].Contents()
			want = want.Plus(a, ions)
			base += a * b
		}
		for i := range nutrients.Ions {
			if math.Abs(m.Solution.Ions[i]-want[i]) > 1e-9*(1+want[i]) {
				t.Fatalf("%s: %v, the parts bring %v", i, m.Solution.Ions[i], want[i])
			}
		}
		// Iron and boron are not counted; every other salt is neutral: strong ions less strong ions is the
		// alkalinity.
		if d := m.Solution.Ions.Charge() - m.Solution.Alkalinity; math.Abs(d) > 1e-6*(1+m.Solution.Ions.Cations()) {
			t.Fatalf("charges are off by %v meq/L", d)
		}
		if math.Abs(m.Solution.Alkalinity-base) > 1e-9*(1+math.Abs(base)) {
			t.Fatalf("alkalinity %v, the parts bring %v", m.Solution.Alkalinity, base)
		}
		if r := m.Reading; math.IsNaN(r.EC) || r.EC < 0 || math.IsNaN(r.PH) || r.Osmotic > 0 {
			t.Fatalf("%+v", r)
		}
		if p.Target.Most[nutrients.Chlorine] > 0 && p.Water.Ions[nutrients.Chlorine] < p.Target.Most[nutrients.Chlorine] && m.Solution.Ions[nutrients.Chlorine] > p.Target.Most[nutrients.Chlorine]*(1+1e-6) {
			t.Fatalf("chloride %v above its limit %v", m.Solution.Ions[nutrients.Chlorine], p.Target.Most[nutrients.Chlorine])
		}
	})
}

// The cheapest mix costs no more than the closest, and is off where that is off, no more.
func TestCheapest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		closest := p.Solve()
		p.Cheapest = true
		cheap := p.Solve()
		if cheap.Cost > closest.Cost*(1+1e-6)+1e-9 {
			t.Fatalf("the cheapest costs %v, the closest %v", cheap.Cost, closest.Cost)
		}
		for i := range nutrients.Ions {
			if !p.Target.Asks[i] {
				continue
			}
			was := max(math.Abs(closest.Solution.Ions[i]-p.Target.Ions[i]), p.Target.Within(i))
			if now := math.Abs(cheap.Solution.Ions[i] - p.Target.Ions[i]); now > was*(1+1e-5)+1e-6 {
				t.Fatalf("%s is off by %v, by %v in the closest mix", i, now, was)
			}
		}
	})
}

// More base never lowers the pH, whatever the solution; and the alkalinity of a pH leads back to
// the pH.
func TestPHRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		s := p.Water
		for i := range nutrients.Ions {
			if p.Target.Asks[i] {
				s.Ions[i] = p.Target.Ions[i]
			}
		}
		a := rapid.Float64Range(-1, 5).Draw(t, "alkalinity")
		b := a + rapid.Float64Range(0.01, 3).Draw(t, "more")
		s.Alkalinity = a
		low := s.Open(nutrients.AirCO2).PH
		s.Alkalinity = b
		high := s.Open(nutrients.AirCO2)
		if high.PH < low-1e-6 {
			t.Fatalf("pH %v with %v meq/L, %v with %v", low, a, high.PH, b)
		}
		if got := s.AlkalinityAt(high.PH); high.PH < 12.9 && high.PH > 0.6 && math.Abs(got-b) > 1e-3 {
			t.Fatalf("alkalinity %v at the pH of %v meq/L", got, b)
		}
	})
}

// A tank that holds what it shall needs nothing but the water that is missing, and one that
// was let stand is found again.
func TestCorrectionOfAGoodTank(t *testing.T) {
	r, err := nutrients.FindRecipe("lettuce of 2014")
	if err != nil {
		t.Fatal(err)
	}
	p := &nutrients.Problem{Target: nutrients.TargetOf(r, 1, 5.8), Water: nutrients.Solution{C: 20}, Products: products(t, cupboard...)}
	m := p.Solve()
	if len(m.Off) > 0 {
		t.Fatalf("off: %+v", m.Off)
	}
	full := nutrients.Tankful{Litres: 100, Full: 100, EC: m.Reading.EC, PH: m.Reading.PH, C: 20, Last: m.Solution}
	c := p.Correct(full)
	if c.Drain != 0 || c.Water != 0 || math.Abs(c.Factor-1) > 1e-3 {
		t.Errorf("drain %v, water %v, factor %v", c.Drain, c.Water, c.Factor)
	}
	for k, a := range c.Mix.Amount {
		if a > 0.01*m.Amount[k]+1e-4 {
			t.Errorf("%v of %s for a tank that is right", a, p.Products[k].Name)
		}
	}
	// Half used in the same proportions: half of everything is missing.
	full.Litres = 50
	c = p.Correct(full)
	if c.Water != 50 || len(c.Mix.Off) > 0 {
		t.Errorf("water %v, off %+v", c.Water, c.Mix.Off)
	}
	k := 2 // potassium nitrate
	if got, want := c.Mix.Amount[k]*100, m.Amount[k]*50; math.Abs(got-want) > 0.03*want {
		t.Errorf("%v g of %s, want %v", got, p.Products[k].Name, want)
	}
}

// What has gathered is thinned to its limit and no further: the equation by hand.
func TestDraining(t *testing.T) {
	p := &nutrients.Problem{Water: nutrients.Solution{C: 20}, Products: products(t, "potassium nitrate")}
	p.Target.Ions[nutrients.Potassium], p.Target.Asks[nutrients.Potassium] = 5, true
	p.Target.Most[nutrients.Sodium] = 2
	p.Water.Ions[nutrients.Sodium], p.Water.Alkalinity = 0.5, 0.5
	var last nutrients.Solution
	last.Ions[nutrients.Sodium], last.C = 5, 20
	// 80 L of 5 mmol/L filled to 100 L with 0.5: x = 1 − (2 − 0.5)·100/(80·(5 − 0.5)) = 0.58333
	c := p.Correct(nutrients.Tankful{Litres: 80, Full: 100, EC: math.NaN(), PH: 6, C: 20, Last: last})
	if math.Abs(c.Drain-0.583333) > 1e-5 || len(c.By) != 1 || c.By[0] != nutrients.Sodium {
		t.Errorf("drain %v by %v", c.Drain, c.By)
	}
	if got := c.Before.Ions[nutrients.Sodium]; math.Abs(got-2) > 1e-9 {
		t.Errorf("sodium %v after it", got)
	}
	if got := nutrients.Gathering(0.5, 2, 0.5, 5, 100); math.Abs(got-60) > 1e-9 { // 1.5·100/(0.5·5)
		t.Errorf("%v days", got)
	}
}

// The balance of a tank by hand: 100 L of 5 mmol/L, 80 L left of 4, 10 L of water added of 1:
// 30 L used, (500 + 10 − 320)/30.
func TestUptake(t *testing.T) {
	a := nutrients.Tankful{Litres: 100, EC: 2}
	b := nutrients.Tankful{Litres: 80, EC: 1.9}
	a.Known[nutrients.Potassium], a.Knows[nutrients.Potassium] = 5, true
	b.Known[nutrients.Potassium], b.Knows[nutrients.Potassium] = 4, true
	var added nutrients.Amounts
	added[nutrients.Potassium] = 10
	got, ok := nutrients.Uptake(a, b, 10, added, 5)
	if !ok || math.Abs(got.Litres-30) > 1e-9 || math.Abs(got.Ions[nutrients.Potassium]-190.0/30) > 1e-9 || math.Abs(got.EC-(200+5-152)/30.0) > 1e-9 {
		t.Errorf("%+v", got)
	}
}

// Both calcium nitrates are asked for by name, and are apart by what is known of them: 16.97 % Ca
// and 11.86 % N against 18.54 and 15.55 (from their formulas, by hand).
func TestCalciumNitratesAreKeptApart(t *testing.T) {
	if _, err := nutrients.Find("calcium nitrate"); err == nil || !strings.Contains(err.Error(), "tetrahydrate") {
		t.Errorf("calcium nitrate alone: %v", err)
	}
	for name, want := range map[string][3]float64{"calcium nitrate tetrahydrate": {16.972, 11.863, 0}, "calcium nitrate 15.5-0-0": {18.544, 14.258, 1.296}} {
		s, err := nutrients.Find(name)
		if err != nil {
			t.Fatal(err)
		}
		for k, i := range []nutrients.Ion{nutrients.Calcium, nutrients.Nitrate, nutrients.Ammonium} {
			if got := 100 * s.PerMol[i] * i.Mass() / s.Molar; math.Abs(got-want[k]) > 0.001 {
				t.Errorf("%s: %s %v %%, want %v", name, i, got, want[k])
			}
		}
	}
}

// Every substance is neutral: its charges leave its alkalinity. Chelates hold the metal alone;
// citric acid has no ion here.
func TestSubstancesAreNeutral(t *testing.T) {
	for _, s := range nutrients.Substances() {
		if s.Kind == nutrients.Chelate || s.Name == "citric acid" {
			continue
		}
		charge := s.PerMol.Charge() + 2*s.PerMol[nutrients.Iron]
		if math.Abs(charge-s.Base) > 1e-9 {
			t.Errorf("%s: charges %v, alkalinity %v", s.Name, charge, s.Base)
		}
		if strings.Contains(s.Formula, "CO3") {
			continue // by formula alone carbon is refused
		}
		made, err := nutrients.NewSubstance("x", s.Formula)
		if err != nil {
			t.Errorf("%s: %v", s.Name, err)
		} else if made.PerMol != s.PerMol || math.Abs(made.Base-s.Base) > 1e-9 {
			t.Errorf("%s by its formula: %v, %v", s.Name, made.PerMol, made.Base)
		}
	}
}

// What cannot be met is told with its cause, and the salt that mends it is found.
func TestRemedies(t *testing.T) {
	r, err := nutrients.FindRecipe("Hoagland 2")
	if err != nil {
		t.Fatal(err)
	}
	p := &nutrients.Problem{Target: nutrients.TargetOf(r, 1, 0), Water: nutrients.Solution{C: 20}, Products: products(t, "calcium nitrate tetrahydrate", "potassium nitrate", "magnesium sulfate", "iron DTPA", "manganese sulfate", "boric acid", "zinc sulfate heptahydrate", "copper sulfate", "sodium molybdate")}
	m := p.Solve()
	causes := map[nutrients.Ion]nutrients.Cause{}
	for _, d := range m.Off {
		causes[d.Ion] = d.Cause
	}
	if causes[nutrients.Phosphorus] != nutrients.NoSource || causes[nutrients.Ammonium] != nutrients.NoSource {
		t.Errorf("causes %v", causes)
	}
	all := p.Remedies(m, 3)
	if len(all) == 0 || all[0].Product.Name != "monoammonium phosphate" || len(all[0].Left) != 0 {
		t.Errorf("remedies %+v", all)
	}
}

// A stock with all in one tank drops gypsum; two tanks do not.
func TestStocks(t *testing.T) {
	r, err := nutrients.FindRecipe("lettuce of 2014")
	if err != nil {
		t.Fatal(err)
	}
	p := &nutrients.Problem{Target: nutrients.TargetOf(r, 1, 5.8), Water: nutrients.Solution{C: 20}, Products: products(t, "calcium nitrate 15.5-0-0", "potassium nitrate", "ammonium nitrate", "monopotassium phosphate", "magnesium sulfate", "iron DTPA", "boric acid")}
	m := p.Solve()
	one, _ := p.Stocks(m, nutrients.Concentrate{Factor: 100, Litres: 10, C: 20, One: true})
	if len(one) != 1 || !(one[0].Largest < 30) || nutrients.Fallen(one[0].Stock) < 50 {
		t.Errorf("one tank: %+v", one)
	}
	two, _ := p.Stocks(m, nutrients.Concentrate{Factor: 100, Litres: 10, C: 20})
	if len(two) != 2 {
		t.Fatalf("%d tanks", len(two))
	}
	for _, part := range two {
		if part.Largest < 100 {
			t.Errorf("tank %s is clear up to %v only", part.Name, part.Largest)
		}
		for k, g := range part.Amount {
			ions, _ := p.Products[k].Contents()
			if g > 0 && part.Name == "A" && ions[nutrients.Phosphorus]+ions[nutrients.Sulfur] > 0 || g > 0 && part.Name == "B" && ions[nutrients.Calcium] > 0 {
				t.Errorf("%s stands in tank %s", p.Products[k].Name, part.Name)
			}
		}
	}
	// Nothing is lost between the tanks.
	for k := range p.Products {
		sum := 0.0
		for _, part := range two {
			sum += part.Amount[k]
		}
		if want := m.Amount[k] * 1000; math.Abs(sum-want) > 1e-9*(1+want) {
			t.Errorf("%s: %v g in the tanks, %v in the feed", p.Products[k].Name, sum, want)
		}
	}
	dry, wet := p.Dry(m)
	if len(dry) != 2 || len(wet) != 0 {
		t.Errorf("dry %+v, wet %v", dry, wet)
	}
}

func FuzzFormula(f *testing.F) {
	for _, s := range []string{"Ca(NO3)2.4H2O", "(NH4)6Mo7O24·4H2O", "((((", "H999999999999", "2.2.2", "Xx", "(Ca(NO3)2)5(NH4NO3)(H2O)10"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		atoms, err := nutrients.Formula(text)
		if err != nil {
			return
		}
		for e, n := range atoms {
			if !(n >= 0) || n > 1e6 {
				t.Fatalf("%v of %s", n, e)
			}
		}
		if s, err := nutrients.NewSubstance("x", text); err == nil && !(s.Molar > 0) {
			t.Fatalf("%q weighs %v", text, s.Molar)
		}
	})
}

// A tank of lettuce feed from five salts in pure water.
func Example() {
	recipe, err := nutrients.FindRecipe("Hoagland 2")
	if err != nil {
		panic(err)
	}
	p := nutrients.Problem{Target: nutrients.TargetOf(recipe, 0.5, 0), Water: nutrients.Solution{C: 20}}
	for _, name := range []string{"calcium nitrate tetrahydrate", "potassium nitrate", "monoammonium phosphate", "magnesium sulfate"} {
		s, err := nutrients.Find(name)
		if err != nil {
			panic(err)
		}
		p.Products = append(p.Products, nutrients.Usual(s))
	}
	m := p.Solve()
	for k, x := range p.Products {
		fmt.Printf("%s %.1f g for 100 L\n", x.Name, 100*m.Amount[k])
	}
	fmt.Printf("EC %.1f mS/cm\n", m.Reading.EC)
	// Output:
	// calcium nitrate tetrahydrate 47.2 g for 100 L
	// potassium nitrate 30.3 g for 100 L
	// monoammonium phosphate 5.8 g for 100 L
	// magnesium sulfate heptahydrate 24.6 g for 100 L
	// EC 1.1 mS/cm
}

func bench(b *testing.B) *nutrients.Problem {
	r, err := nutrients.FindRecipe("lettuce of 2014")
	if err != nil {
		b.Fatal(err)
	}
	p := &nutrients.Problem{Target: nutrients.TargetOf(r, 1, 5.8), Water: nutrients.Solution{C: 20}, Products: products(b, cupboard...)}
	p.Water.Ions[nutrients.Calcium], p.Water.Alkalinity = 1, 2
	for k := range p.Products {
		p.Products[k].Price, p.Products[k].Priced = float64(k%5+1), true
	}
	return p
}

func BenchmarkSolve(b *testing.B) {
	p := bench(b)
	for _, cheapest := range []bool{false, true} {
		p.Cheapest = cheapest
		b.Run(fmt.Sprintf("19 products, cheapest %v", cheapest), func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				p.Solve()
			}
		})
	}
}

func BenchmarkRemedies(b *testing.B) {
	p := bench(b)
	p.Products = p.Products[:6]
	m := p.Solve()
	b.ReportAllocs()
	for range b.N {
		p.Remedies(m, 3)
	}
}

func BenchmarkOpen(b *testing.B) {
	p := bench(b)
	s := p.Solve().Solution
	b.ReportAllocs()
	for range b.N {
		s.Open(nutrients.AirCO2)
	}
}
