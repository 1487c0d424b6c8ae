package validation

import (
	"fmt"
	"math"

	"underlamp/science/energycost"
	"underlamp/science/leafenergy"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
)

// Quantities checks arithmetic by hand.
func Quantities() []Check {
	const area = "quantities"
	by := func(name, unit string, got, want, tolerance float64) Check {
		return near(area, name, "ThompsonTaylor2008", Independent, unit, got, want, tolerance)
	}
	dli := func(e quantity.PPFD) float64 { return float64(quantity.DailyLight(e, 16)) }
	const halfDigit = 0.05
	return []Check{
		by("daily light of 200 µmol over 16 h", "mol/m²/d", dli(200), 11.52, 1e-9),
		by("daily light of 575 µmol over 16 h", "mol/m²/d", dli(575), 33.1, halfDigit),
		by("daily light of 278 µmol over 16 h", "mol/m²/d", dli(278), 16.0, halfDigit),
		by("daily light of 175 µmol over 16 h", "mol/m²/d", dli(175), 10.1, halfDigit),
		by("PPFD that gives 17.4 mol in 16 h", "µmol/m²/s", float64(quantity.ConstantPPFD(17.4, 16)), 302.08, 0.01),
		by("photons of 71.43 W at 2.8 µmol/J", "µmol/s", float64(energycost.Flux(71.43, 2.8)), 200, 0.01),
		by("energy of 71.43 W, 16 h, 35 d", "kWh", float64(energycost.LampEnergy(71.43, 16, 35)), 40.0, 0.01),
		// h, c and N_A are exact: 3.990312712893e-10 J s/mol times 299 792 458 m/s.
		by("energy of 1 µmol of photons of 660 nm", "J", energycost.PhotonEnergyConstant*1e3/660, 0.181252, 1e-6),
		by("photons of 660 nm in a joule", "µmol/J", 660/(energycost.PhotonEnergyConstant*1e3), 5.517, 5e-4),
	}
}

// Air checks moist air against printed tables and worked examples.
func Air() []Check {
	const area = "air"
	var out []Check
	add := func(c Check, note string) { c.Note = note; out = append(out, c) }

	for _, r := range rows("climate-svp-reference-points") {
		c := r.f("T_C")
		got := float64(moistair.SaturationPressure(quantity.Celsius(c)))
		want := r.f("table_lide_kPa")
		add(near(area, fmt.Sprintf("saturation pressure at %g °C", c), "Lide2005", Published, "kPa", got, want, 0.001*want), "0.1 %, the accuracy of the formula")
		if want := r.f("table_ashrae_kPa"); !math.IsNaN(want) {
			add(near(area, fmt.Sprintf("saturation pressure at %g °C, second table", c), "ASHRAE2017", Published, "kPa", got, want, 0.0013*want), "")
		}
	}
	fao := func(name, unit string, got, want, tolerance float64, note string) {
		add(near(area, name, "Allen1998", Published, unit, got, want, tolerance*1.0001), note)
	}
	fao("example 2: pressure at 1800 m", "kPa", float64(moistair.Pressure(1800)), 81.8, 0.05, "half of the last digit")
	fao("example 2: psychrometric constant", "kPa/°C", moistair.PsychrometricConstant(81.8), 0.054, 5e-4, "")
	fao("example 3: saturation pressure at 24.5 °C", "kPa", float64(moistair.SaturationPressure(24.5)), 3.075, 5e-4, "")
	fao("example 3: saturation pressure at 15 °C", "kPa", float64(moistair.SaturationPressure(15)), 1.705, 5e-4, "")
	fao("example 4: vapour pressure from a wet bulb", "kPa", float64(moistair.FromWetBulb(25.6, 19.5, 87.9)), 1.91, 5e-3, "")
	fao("example 5: vapour pressure from humidity", "kPa", float64(moistair.VapourPressure(18, 0.82)+moistair.VapourPressure(25, 0.54))/2, 1.70, 5e-3, "")
	fao("example 17: slope of the curve at 30.2 °C", "kPa/°C", moistair.SaturationSlope(30.2), 0.246, 5e-4, "")
	fao("example 20: saturation pressure at 14.8 °C", "kPa", float64(moistair.SaturationPressure(14.8)), 1.68, 5e-3, "")

	ashrae := func(name, unit string, got, want, tolerance float64, note string) {
		add(near(area, name, "ASHRAE2017", Published, unit, got, want, tolerance), note)
	}
	ratio := func(c quantity.Celsius) float64 {
		return moistair.HumidityRatio(moistair.SaturationPressure(c), 101.325)
	}
	const saturated = "0.5 % for the enhancement factor that is left out and 0.1 % for the curve"
	ashrae("humidity ratio of saturated air at 5 °C", "g/kg", 1e3*ratio(5), 5.425, 5.425*0.006, saturated)
	ashrae("humidity ratio of saturated air at 25 °C", "g/kg", 1e3*ratio(25), 20.173, 20.173*0.006, saturated)
	ashrae("enthalpy of saturated air at 25 °C", "kJ/kg", moistair.Enthalpy(25, ratio(25)), 76.504, 76.504*0.006, saturated)
	ashrae("enthalpy of air at 30 °C with 20 g/kg", "kJ/kg", moistair.Enthalpy(30, 0.02), 81.316, 81.316*3e-4, "")
	wet := moistair.FromWetBulb(40, 20, 101.325)
	ashrae("example 1: humidity ratio from a wet bulb", "g/kg", 1e3*moistair.HumidityRatio(wet, 101.325), 6.5, 0.1,
		"another instrument: the chart's wet bulb is the thermodynamic one, the formula is for a ventilated psychrometer")
	ashrae("example 1: relative humidity", "%", 100*float64(wet/moistair.SaturationPressure(40)), 14, 1, "")
	ashrae("example 1: dew point", "°C", float64(moistair.DewPoint(wet)), 7, 0.5, "")

	for _, r := range rows("climate-humidity-vectors") {
		t, rh := quantity.Celsius(r.f("T_C")), quantity.Fraction(r.f("RH_pct")/100)
		at := fmt.Sprintf(" at %g °C and %g %%", r.f("T_C"), r.f("RH_pct"))
		add(near(area, "dew point"+at, "Allen1998", Independent, "°C", float64(moistair.DewPoint(moistair.VapourPressure(t, rh))), r.f("dew_point_C"), 6e-4), "")
		want := r.f("vapour_deficit_g_m3")
		add(near(area, "vapour deficit"+at, "HylandWexler1983", Independent, "g/m³", moistair.Deficit(t, rh), want, 0.0015*want), "another saturation formula, 0.15 % apart at most")
	}
	return out
}

// Leaf checks the energy balance of one leaf and of a stand.
func Leaf() []Check {
	const area = "leaf"
	var out []Check
	leaf := func(r row) leafenergy.LeafState {
		return leafenergy.Leaf{
			AirC: quantity.Celsius(r.f("air_C")), Humidity: quantity.Fraction(r.f("RH_pct") / 100), Absorbed: r.f("qa_W_m2"),
			Wind: quantity.MetrePerSecond(r.f("wind_m_s")), Size: quantity.Metre(r.f("leaf_dim_m")), Conduction: r.f("gs_mol_m2_s"),
		}.Solve()
	}
	for _, table := range []string{"climate-leaf-energy-balance-bonan-cases", "climate-leaf-energy-balance-indoor-vectors"} {
		for _, r := range rows(table) {
			s := leaf(r)
			at := fmt.Sprintf(", %g W/m² absorbed, %g °C, %g %%, %g m/s, leaf %g m, conductance %g", r.f("qa_W_m2"), r.f("air_C"), r.f("RH_pct"), r.f("wind_m_s"), r.f("leaf_dim_m"), r.f("gs_mol_m2_s"))
			out = append(out, near(area, "leaf temperature"+at, "Bonan2019", Independent, "°C", float64(s.LeafC), r.f("leaf_C"), 0.03))
		}
	}
	for _, r := range rows("graamans2017_table2_fig6_fluxes") {
		day := leafenergy.NewCanopyAir(quantity.Celsius(r.f("air_temp_light_C")), quantity.Fraction(r.f("RH_light_percent")/100)).
			Solve(leafenergy.Stand{Absorbed: r.f("Rnet_W_m2"), LAI: r.f("LAI"), Stomata: r.f("rs_light_s_m"), Air: r.f("ra_s_m")})
		night := leafenergy.NewCanopyAir(quantity.Celsius(r.f("air_temp_dark_C")), quantity.Fraction(r.f("RH_dark_percent")/100)).
			Solve(leafenergy.Stand{LAI: r.f("LAI"), Stomata: r.f("rs_dark_s_m"), Air: r.f("ra_s_m")})
		set := "set " + r.text("set")
		light := near(area, set+": latent heat of a stand in light", "Graamans2017", Published, "W/m²", day.Latent, r.f("latent_light_W_m2"), 1)
		light.Note = "the paper linearises the saturation curve, worth up to 0.6 W/m²"
		out = append(out, light)
		dark := near(area, set+": latent heat of a stand in the dark", "Graamans2017", Published, "W/m²", night.Latent, r.f("latent_dark_W_m2"), 0.5)
		if r.text("set") == "A" {
			dark.Note = "the printed 32.8 is a misprint: set C has the same air and 27.4"
		}
		out = append(out, dark)
		again := near(area, set+": latent heat in light, computed again", "Graamans2017", Independent, "W/m²", day.Latent, r.f("recomputed_latent_light_W_m2"), 1)
		out = append(out, again)
	}
	day := leafenergy.NewCanopyAir(21, 0.73)
	for _, r := range rows("graamans2017_fig3_transpiration_vs_ppfd") {
		e := quantity.PPFD(r.f("ppfd_setup_umol_m2_s"))
		got := day.Solve(leafenergy.Stand{
			Absorbed: leafenergy.Absorbed(float64(e)*leafenergy.PARPerPhoton, 1), LAI: 3,
			Stomata: leafenergy.StomatalResistance(e), Air: 100,
		}).Transpiration
		// The paper's own error: root mean square 0.004 g m⁻² s⁻¹, twice that.
		c := near(area, fmt.Sprintf("measured transpiration at %g µmol", float64(e)), "Graamans2017", Published, "mg/m²/s", 1e3*got, 1e3*r.f("measured_light_g_m2_s"), 8)
		c.Note = "figure read by eye; twice the error that the paper states for its model, 4 mg/m²/s"
		out = append(out, c)
	}
	return append(out, water())
}
