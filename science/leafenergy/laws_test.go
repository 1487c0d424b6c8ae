package leafenergy_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"underlamp/science/leafenergy"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/science/reference"
)

// Bonan2019, supplemental program 10.2, cases without stomata, computed outside
// this project. The saturation curve, in which ours differs, then enters only
// through the heat of moist air, so the printed digits must come out: half of
// the last digit, twice for the temperature, which is printed finer than the
// heat of the vapour allows.
func TestDryLeafToPrintedDigits(t *testing.T) {
	t.Parallel()
	table := reference.MustLoad("climate-leaf-energy-balance-bonan-cases")
	met := 0
	for i := range table.Rows {
		if table.Float(i, "gs_mol_m2_s") != 0 {
			continue
		}
		met++
		got := leafOf(table, i).Solve()
		near(t, i, "leaf temperature", float64(got.LeafC), table.Float(i, "leaf_C"), 1e-4)
		near(t, i, "emitted", got.Emitted, table.Float(i, "lw"), 1e-3)
		near(t, i, "sensible", got.Sensible, table.Float(i, "sensible"), 1e-3)
		near(t, i, "latent", got.Latent, 0, 0)
		near(t, i, "heat conductance", got.HeatG, table.Float(i, "gbh_one_side"), 5.1e-5)
		near(t, i, "vapour conductance", got.VapourG, table.Float(i, "gbw_one_side"), 5.1e-5)
	}
	if met != 8 {
		t.Errorf("met %d cases without stomata, want 8", met)
	}
}

// Cases with stomata, the same program. Latent heat differs by the saturation
// curve alone: equation 11 of Allen1998 is within 0.1 % of others over the
// temperatures of the table; conductances differ by free convection only, which
// goes with the fourth root of the difference of temperature.
func TestWetLeafInPercent(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"climate-leaf-energy-balance-bonan-cases", "climate-leaf-energy-balance-indoor-vectors"} {
		table := reference.MustLoad(name)
		heat, vapour := "gbh_one_side", "gbw_one_side"
		if name == "climate-leaf-energy-balance-indoor-vectors" {
			heat, vapour = "gbh", "gbw"
		}
		for i := range table.Rows {
			if table.Float(i, "gs_mol_m2_s") == 0 {
				continue
			}
			got := leafOf(table, i).Solve()
			near(t, i, name+": latent, share", got.Latent/table.Float(i, "latent"), 1, 0.001)
			near(t, i, name+": leaf temperature", float64(got.LeafC), table.Float(i, "leaf_C"), 0.01)
			near(t, i, name+": heat conductance, share", got.HeatG/table.Float(i, heat), 1, 0.0015)
			near(t, i, name+": vapour conductance, share", got.VapourG/table.Float(i, vapour), 1, 0.0015)
		}
	}
}

func leafOf(table reference.Table, i int) leafenergy.Leaf {
	f := func(c string) float64 { return table.Float(i, c) }
	return leafenergy.Leaf{
		AirC: quantity.Celsius(f("air_C")), Humidity: quantity.Fraction(f("RH_pct") / 100), Absorbed: f("qa_W_m2"),
		Wind: quantity.MetrePerSecond(f("wind_m_s")), Size: quantity.Metre(f("leaf_dim_m")), Conduction: f("gs_mol_m2_s"),
	}
}

// The balance closes at the temperature found, whether free convection is on or
// off; without light in saturated air of the temperature of its surroundings a
// leaf is at the temperature of the air.
func TestLeafLaws(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		l := leafenergy.Leaf{
			AirC:       quantity.Celsius(rapid.Float64Range(5, 40).Draw(t, "air")),
			Humidity:   quantity.Fraction(rapid.Float64Range(0, 1).Draw(t, "humidity")),
			Absorbed:   rapid.Float64Range(600, 1400).Draw(t, "absorbed"),
			Wind:       quantity.MetrePerSecond(rapid.Float64Range(0.01, 3).Draw(t, "wind")),
			Size:       quantity.Metre(rapid.Float64Range(0.01, 0.3).Draw(t, "size")),
			Conduction: rapid.Float64Range(0, 1).Draw(t, "stomata"),
		}
		s := l.Solve()
		// Bisection goes to 1e-7 K. All parts of the balance change by less than 1e-4 W/m²
		// over that, but free convection, which sets in with the fourth root of the
		// difference of temperature, infinitely steep at first: the latent heat by it is at
		// most λ/P e* (1 − h) · ρ D/d · 0.54 (Gr Sc)^¼. Taken to be large: λ 45.1 kJ/mol,
		// ρ 44.6 mol/m³, D 2.9e-5 m²/s, ν 1.33e-5 m²/s, Sc 0.65 (Bonan2019,
		// supplemental program 10.2, over the range of the draw); stomata only make it less.
		d, airK := float64(l.Size), l.AirC.Kelvin()
		deficit := 1000 * float64(moistair.SaturationPressure(l.AirC+1e-3)) * (1.0001 - float64(l.Humidity))
		free := func(k float64) float64 {
			gr := 9.81 * d * d * d * max(k, 0) / (airK * 1.33e-5 * 1.33e-5)
			return 45100 / 101325.0 * deficit * 44.6 * 2.9e-5 / d * 0.54 * math.Pow(0.65*gr, 0.25)
		}
		from := float64(s.LeafC - l.AirC)
		tolerance := 1e-4 + free(from+1e-7) - free(from-1e-7)
		if gap := s.Emitted + s.Sensible + s.Latent - l.Absorbed; math.Abs(gap) > tolerance {
			t.Fatalf("the balance is open by %g W/m² at %g K from the air", gap, s.LeafC-l.AirC)
		}
		more := l
		more.Absorbed += 10
		if more.Solve().LeafC <= s.LeafC {
			t.Fatal("more radiation, yet no warmer leaf")
		}
		more = l
		more.Conduction += 0.1
		if more.Solve().LeafC > s.LeafC+1e-6 && s.Latent > 0 {
			t.Fatal("wider stomata warm a leaf that loses water")
		}
		l.Humidity, l.Absorbed = 1, 2*0.98*5.67e-8*math.Pow(l.AirC.Kelvin(), 4)
		if d := float64(l.Solve().LeafC - l.AirC); math.Abs(d) > 1e-5 {
			t.Fatalf("a leaf in balance with its surroundings is %g K from the air", d)
		}
	})
}

// Stand against its own equations (Graamans2017, 4 to 6) solved by bisection.
func TestStandLaws(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		air := quantity.Celsius(rapid.Float64Range(8, 38).Draw(t, "air"))
		rh := quantity.Fraction(rapid.Float64Range(0.1, 1).Draw(t, "humidity"))
		s := leafenergy.Stand{
			Absorbed: rapid.Float64Range(0, 200).Draw(t, "absorbed"), LAI: rapid.Float64Range(0.1, 8).Draw(t, "LAI"),
			Stomata: rapid.Float64Range(80, 450).Draw(t, "stomata"), Air: rapid.Float64Range(20, 400).Draw(t, "air resistance"),
		}
		got := leafenergy.NewCanopyAir(air, rh).Solve(s)

		const airHeat, latent = 1206, 2450 // J m⁻³ K⁻¹ and J g⁻¹, as the paper has them
		chi := func(c quantity.Celsius) float64 {
			return moistair.AbsoluteHumidity(moistair.SaturationPressure(c), c)
		}
		loss := func(d float64) float64 {
			return s.LAI*airHeat*d/s.Air + s.LAI*latent*(chi(air+quantity.Celsius(d))-float64(rh)*chi(air))/(s.Stomata+s.Air)
		}
		lo, hi := -50.0, 200.0
		for range 60 {
			if mid := (lo + hi) / 2; loss(mid) < s.Absorbed {
				lo = mid
			} else {
				hi = mid
			}
		}
		switch e := math.Abs(got.Warmer - lo); {
		case math.Abs(lo) < 3 && e > 0.001, math.Abs(lo) < 5 && e > 0.01:
			t.Fatalf("the stand is %g K warmer, want %g", got.Warmer, lo)
		}
		if sum := got.Sensible + got.Latent; math.Abs(sum-s.Absorbed) > 1e-9 {
			t.Fatalf("fluxes add up to %g W/m², absorbed are %g", sum, s.Absorbed)
		}
		if math.Abs(got.Transpiration*latent-got.Latent) > 1e-9 {
			t.Fatal("water and latent heat differ")
		}
	})
}

// Young plants stand apart: the balance is that of the ground under their
// crowns, so water per plant is water per m² of crown times the crown. Half the
// cover at the same leaf area per crown gives half the water of the bench, with
// light taken per crown (arithmetic).
func TestApartStandScalesWithCover(t *testing.T) {
	t.Parallel()
	air := leafenergy.NewCanopyAir(22, 0.7)
	s := leafenergy.Stand{LAI: 0.8, Stomata: leafenergy.StomatalResistance(200), Air: leafenergy.AerodynamicResistance(0.2, 1)}
	s.Absorbed = leafenergy.Absorbed(40, 1)
	perCrown := air.Solve(s).Transpiration
	bench := leafenergy.Stand{LAI: 0.4, Stomata: s.Stomata, Air: s.Air, Absorbed: leafenergy.Absorbed(40, 0.5)}
	near(t, 0, "water of the bench", air.Solve(bench).Transpiration, perCrown/2, 1e-9)
}

// A large leaf in strong wind, where forced convection is turbulent (Reynolds
// number 96 000): Bonan2019, equations of supplemental program 10.2, computed by
// hand outside this project for a leaf cooler than the air, so without free
// convection. Digits as computed.
func TestTurbulentLayer(t *testing.T) {
	t.Parallel()
	got := leafenergy.Leaf{AirC: 25, Humidity: 0.5, Absorbed: 700, Wind: 5, Size: 0.3}.Solve()
	if got.LeafC >= 25 {
		t.Fatalf("the leaf is at %g °C, want below the air", got.LeafC)
	}
	near(t, 0, "heat", got.HeatG, 1.407278, 1e-5)
	near(t, 0, "vapour", got.VapourG, 1.548519, 1e-5)
}
