package validation

import (
	"fmt"
	"math"

	"underlamp/science/nutrients"
)

// vectorRecipe is a row of the table of compositions.
func vectorRecipe(name string) nutrients.Amounts {
	for _, r := range rows("nutrient-recipes-macro") {
		if r.text("recipe") == name {
			return nutrients.Amounts{nutrients.Nitrate: r.f("NO3_mmol_L"), nutrients.Ammonium: r.f("NH4_mmol_L"), nutrients.Phosphorus: r.f("P_mmol_L"), nutrients.Potassium: r.f("K_mmol_L"),
				nutrients.Calcium: r.f("Ca_mmol_L"), nutrients.Magnesium: r.f("Mg_mmol_L"), nutrients.Sulfur: r.f("S_mmol_L")}
		}
	}
	panic("validation: no composition is called " + name)
}

func substance(name string) *nutrients.Substance {
	s, err := nutrients.Find(name)
	if err != nil {
		panic("validation: " + err.Error())
	}
	return s
}

// Feed checks salts, conductivity, acid, precipitation and mixing of nutrient solutions. Nothing of
// science/nutrients was fitted to any of these rows.
func Feed() []Check {
	const area = "feed"
	var out []Check
	add := func(c Check, note string) { c.Note = note; out = append(out, c) }

	// Salts.
	for _, x := range []struct {
		name string
		want float64
		half float64
	}{{"calcium nitrate tetrahydrate", 236.15, 0.005}, {"calcium nitrate 15.5-0-0", 1080.622, 0.02}, {"monopotassium phosphate", 136.086, 0.005}, {"magnesium sulfate heptahydrate", 246.475, 0.01}, {"potassium sulfate", 174.259, 0.01}, {"monoammonium phosphate", 115.03, 0.01}} {
		add(near(area, "molar mass of "+x.name, "IUPAC2021", Published, "g/mol", substance(x.name).Molar, x.want, x.half), "as public pages print it; the older weight of sulfur and rounding leave 0.01")
	}
	const gallon, ounce = 3.785411784, 453.59237 / 16
	label := func(n float64) nutrients.Product {
		p := nutrients.Product{Name: "label"}
		p.Label[nutrients.Nitrate], p.Labelled[nutrients.Nitrate] = n, true
		return p
	}
	nitrogen := func(share, ounces float64) float64 {
		p := label(share)
		ions, _ := p.Contents()
		return ions.Times(ounces * ounce / (100 * gallon)).MgL(nutrients.Nitrate)
	}
	add(near(area, "1 oz of calcium nitrate of 15 % N in 100 US gal", "TexasFeed", Published, "mg/L N", nitrogen(0.15, 1), 11.25, 0.03), "the rule of 75 is rounded from 74.9")
	add(near(area, "ounces of it for 250 mg/L in 100 US gal", "TexasFeed", Published, "oz", 250/nitrogen(0.15, 1), 22.2, 0.06), "the same rule")
	add(near(area, "20-20-20 for 200 mg/L in 100 US gal", "UMassFertilizer", Published, "oz", 200/nitrogen(0.20, 1), 13.5, 0.25), "printed to half an ounce")
	add(near(area, "15-15-15 for 200 mg/L in 100 US gal", "UMassFertilizer", Published, "oz", 200/nitrogen(0.15, 1), 18, 0.25), "printed to half an ounce")

	// Hoagland's solutions from their stocks: mL of 1 mol/L in a litre.
	hoagland := func(stocks map[string]float64) nutrients.Solution {
		var p nutrients.Problem
		var amounts []float64
		for name, ml := range stocks {
			s := substance(name)
			p.Products = append(p.Products, nutrients.Usual(s))
			amounts = append(amounts, s.Molar*ml/1000)
		}
		p.Water.C = 25
		return p.Dissolved(amounts)
	}
	one := hoagland(map[string]float64{"monopotassium phosphate": 1, "potassium nitrate": 5, "calcium nitrate tetrahydrate": 5, "magnesium sulfate heptahydrate": 2})
	for _, x := range []struct {
		ion  nutrients.Ion
		want float64
	}{{nutrients.Nitrate, 210}, {nutrients.Potassium, 235}, {nutrients.Calcium, 200}, {nutrients.Phosphorus, 31}, {nutrients.Sulfur, 64}, {nutrients.Magnesium, 48}} {
		add(near(area, "solution 1 of 1950 from its stocks: "+x.ion.Name(), "HoaglandArnon1950", Published, "mg/L", one.Ions.MgL(x.ion), x.want, 1), "printed to whole mg/L; magnesium is 48.6")
	}
	micro := func(name string, gramsInLitre float64, ion nutrients.Ion) float64 {
		p := nutrients.Usual(substance(name))
		ions, _ := p.Contents()
		return ions.Times(gramsInLitre / 1000).MgL(ion)
	}
	for _, x := range []struct {
		name  string
		grams float64
		ion   nutrients.Ion
		want  float64
		half  float64
	}{{"boric acid", 2.86, nutrients.Boron, 0.5, 0.05}, {"manganese chloride tetrahydrate", 1.81, nutrients.Manganese, 0.5, 0.05}, {"zinc sulfate heptahydrate", 0.22, nutrients.Zinc, 0.05, 0.005}, {"copper sulfate pentahydrate", 0.08, nutrients.Copper, 0.02, 0.005}} {
		add(near(area, "micronutrient stock of 1950, 1 mL/L: "+x.ion.Name(), "HoaglandArnon1950", Published, "mg/L", micro(x.name, x.grams, x.ion), x.want, x.half), "half of the last digit")
	}
	// And back: the mix finds the moles of the stocks.
	recipe, err := nutrients.FindRecipe("Hoagland 2")
	if err != nil {
		panic("validation: " + err.Error())
	}
	back := nutrients.Problem{Target: nutrients.TargetOf(recipe, 1, 0), Water: nutrients.Solution{C: 25}}
	moles := map[string]float64{"monoammonium phosphate": 1, "potassium nitrate": 6, "calcium nitrate tetrahydrate": 4, "magnesium sulfate heptahydrate": 2}
	order := []string{"monoammonium phosphate", "potassium nitrate", "calcium nitrate tetrahydrate", "magnesium sulfate heptahydrate", "ammonium nitrate", "potassium sulfate"}
	for _, name := range order {
		back.Products = append(back.Products, nutrients.Usual(substance(name)))
	}
	mix := back.Solve()
	for k, name := range order {
		add(near(area, "solution 2 of 1950 back to its salts: "+name, "HoaglandArnon1950", Independent, "mmol/L", 1000*mix.Amount[k]/substance(name).Molar, moles[name], 0.01), "of six salts the mix must find the four of the stocks, with 1, 6, 4 and 2 mmol/L")
	}
	grams := map[string]float64{"calcium nitrate 15.5-0-0": 184.0, "ammonium nitrate": 14.4, "potassium nitrate": 167.3, "monopotassium phosphate": 51.5, "magnesium sulfate heptahydrate": 93.1}
	if recipe, err = nutrients.FindRecipe("lettuce of 2014"); err != nil {
		panic("validation: " + err.Error())
	}
	back = nutrients.Problem{Target: nutrients.TargetOf(recipe, 1, 0), Water: nutrients.Solution{C: 25}}
	order = []string{"calcium nitrate 15.5-0-0", "ammonium nitrate", "potassium nitrate", "monopotassium phosphate", "magnesium sulfate heptahydrate"}
	for _, name := range order {
		back.Products = append(back.Products, nutrients.Usual(substance(name)))
	}
	mix = back.Solve()
	for k, name := range order {
		add(near(area, "lettuce recipe of 2014 back to its grams: "+name, "LettuceRecipe2014", Published, "g/100 US gal", mix.Amount[k]*100*gallon, grams[name], 0.005*grams[name]), "recipe and grams from memory; 0.5 % for the rounding of the recipe")
	}

	// Conductivity.
	for _, r := range rows("nutrient-kcl-standard-temperature") {
		c := r.f("t_C")
		for _, x := range []struct {
			column string
			mmol   float64
		}{{"std_1413_uS_cm", 10}, {"std_12880_uS_cm", 100}} {
			s := nutrients.Solution{C: c}
			s.Ions[nutrients.Potassium], s.Ions[nutrients.Chlorine] = x.mmol, x.mmol
			want := r.f(x.column)
			add(near(area, fmt.Sprintf("conductivity of %g mmol/L of potassium chloride at %g °C", x.mmol, c), "KClChart", Published, "µS/cm", 1000*s.Conductance(7), want, 0.01*want), "1 %, of a chart; the salt was measured from 5 °C on")
		}
	}
	worst, count := 0.0, 0
	for _, r := range rows("nutrient-ec-phreeqc-vectors") {
		s := nutrients.Solution{Ions: vectorRecipe(r.text("recipe")).Times(r.f("strength")), C: 25}
		got, _ := s.At(5.8)
		want := r.f("SC_phreeqc_uS_cm") / 1000
		if e := 100 * (got.EC/want - 1); math.Abs(e) > math.Abs(worst) {
			worst = e
		}
		count++
		if r.f("strength") == 1 {
			add(near(area, "EC of "+r.text("recipe")+", full strength", "PHREEQC2013", Published, "mS/cm", got.EC, want, 0.02*want), "2 %, which a sum over ions reaches for natural waters; another model: diffusion coefficients, where this one has measured salts")
		}
	}
	add(value(area, "largest error of EC over recipes and strengths", "PHREEQC2013", Published, "%", worst, 0, -2, 2), fmt.Sprintf("over %d solutions from a quarter to double strength", count))
	for _, r := range rows("nutrient-ec-temperature-phreeqc") {
		s := nutrients.Solution{Ions: vectorRecipe("modified_Sonneveld_lettuce_100gal(15.5-0-0)"), C: r.f("t_C")}
		want := r.f("SC_uS_cm") / 1000
		add(near(area, fmt.Sprintf("conductivity of a lettuce feed at %g °C", s.C), "PHREEQC2013", Published, "mS/cm", s.Conductance(5.8), want, 0.02*want), "2 %, another model; as it is 1.7 % higher at 25 °C, and the salts of McCleskey2011 lose less in the cold")
	}
	for _, r := range rows("nutrient-single-salt-conductivity-checks") {
		parts := map[string]nutrients.Amounts{
			"KNO3": {nutrients.Potassium: 1, nutrients.Nitrate: 1}, "CaCl2": {nutrients.Calcium: 1, nutrients.Chlorine: 2}, "K2SO4": {nutrients.Potassium: 2, nutrients.Sulfur: 1}, "MgSO4": {nutrients.Magnesium: 1, nutrients.Sulfur: 1},
			"MgCl2": {nutrients.Magnesium: 1, nutrients.Chlorine: 2}, "NH4Cl": {nutrients.Ammonium: 1, nutrients.Chlorine: 1}, "KH2PO4": {nutrients.Potassium: 1, nutrients.Phosphorus: 1}, "Ca(NO3)2": {nutrients.Calcium: 1, nutrients.Nitrate: 2},
		}
		ions, ok := parts[r.text("salt")]
		if !ok {
			continue // potassium chloride stands above
		}
		s := nutrients.Solution{Ions: ions.Times(1000 * r.f("mol_per_kg")), C: r.f("t_C")}
		want := r.f("phreeqc_uS_cm")
		ph := 7.0
		if r.text("salt") == "KH2PO4" {
			ph = 4.6 // where the salt alone comes to
		}
		add(near(area, fmt.Sprintf("conductivity of %g mmol/kg of %s", 1000*r.f("mol_per_kg"), r.text("salt")), "PHREEQC2013", Published, "µS/cm", 1000*s.Conductance(ph), want, 0.03*want), "3 %; of H2PO4⁻ tables have 31.8 to 36 S cm²/mol, and 36 is taken here")
	}
	for _, x := range []struct {
		name string
		want float64
	}{{"Sonneveld & Straver lettuce", 2.6}, {"Steiner universal", 2.0}, {"Yamazaki lettuce", 1.0}} {
		r, err := nutrients.FindRecipe(x.name)
		if err != nil {
			panic("validation: " + err.Error())
		}
		got, _ := nutrients.Solution{Ions: r.Amounts, C: 25}.At(5.8)
		add(near(area, "EC of "+x.name+" as it is stated", r.Source, Published, "mS/cm", got.EC, x.want, 0.1*x.want), "composition and EC from memory; stated to one digit, in water that is not known")
	}

	// Acid.
	for _, r := range rows("nutrient-alkalinity-acid-vectors") {
		alk := r.f("alk_meq_L")
		s := nutrients.Solution{Alkalinity: alk, C: r.f("t_C")}
		s.Ions[nutrients.Calcium] = alk / 2
		closed, open := s.AcidForPH(r.f("pH_start"), r.f("pH_target"))
		name := fmt.Sprintf("acid for %g meq/L from pH %g to %g at %g °C", alk, r.f("pH_start"), r.f("pH_target"), s.C)
		add(near(area, name+", CO2 stays", "PHREEQC2013", Independent, "meq/L", closed, r.f("acid_closed_meq_L"), 0.01*alk), "1 % of the alkalinity, for pairs of bicarbonate with calcium")
		add(near(area, name+", CO2 leaves", "PHREEQC2013", Independent, "meq/L", open, r.f("acid_open_meq_L"), 0.01*alk), "the same")
	}
	acid := func(name string, share float64) nutrients.Product {
		p := nutrients.Product{Name: name, Substance: substance(name), Purity: share}
		p.Density, _ = nutrients.AcidDensity(name, share)
		return p
	}
	const fluidOunce = gallon * 1000 / 128
	caco3 := func(p nutrients.Product, ml float64) float64 { // mg/L of CaCO3 in 100 US gal
		_, base := p.Contents()
		return -base * ml / (100 * gallon) * 100.086 / 2
	}
	element := func(p nutrients.Product, i nutrients.Ion, ml float64) float64 {
		ions, _ := p.Contents()
		return ions.Times(ml / (100 * gallon)).MgL(i)
	}
	nitric, phosphoric, sulfuric35, sulfuric93 := acid("nitric acid", 0.67), acid("phosphoric acid", 0.75), acid("sulfuric acid", 0.35), acid("sulfuric acid", 0.93)
	const table = "2 %, for densities and rounding"
	const protons = "2 %; the table counts more than one proton of phosphoric acid, of which 1.04 are given up at pH 5.8"
	add(near(area, "0.87 fl oz of nitric acid of 67 % in 100 US gal", "AcidTraining", Published, "mg/L CaCO3", caco3(nitric, 0.87*fluidOunce), 50, 1), table)
	add(near(area, "its nitrogen", "AcidTraining", Published, "mg/L N", element(nitric, nutrients.Nitrate, 0.87*fluidOunce), 14.3, 0.29), table)
	add(near(area, "0.94 fl oz of phosphoric acid of 75 % in 100 US gal", "AcidTraining", Published, "mg/L CaCO3", caco3(phosphoric, 0.94*fluidOunce), 50, 1), protons)
	add(near(area, "its phosphorus", "AcidTraining", Published, "mg/L P", element(phosphoric, nutrients.Phosphorus, 0.94*fluidOunce), 27.5, 0.55), table)
	add(near(area, "1.42 fl oz of sulfuric acid of 35 % in 100 US gal", "AcidTraining", Published, "mg/L CaCO3", caco3(sulfuric35, 1.42*fluidOunce), 50, 1), table)
	add(near(area, "its sulfur", "AcidTraining", Published, "mg/L S", element(sulfuric35, nutrients.Sulfur, 1.42*fluidOunce), 16.1, 0.32), table)
	add(near(area, "1 fl oz of sulfuric acid of 93 % in 100 US gal", "UMassAcids", Published, "mg/L CaCO3", caco3(sulfuric93, fluidOunce), 136, 2.7), table)
	add(near(area, "sulfur of an ounce of it", "UMassAcids", Published, "mg/L S", element(sulfuric93, nutrients.Sulfur, fluidOunce), 43.6, 0.9), table)
	add(near(area, "1 fl oz of phosphoric acid of 75 % in 100 US gal", "UMassAcids", Published, "mg/L CaCO3", caco3(phosphoric, fluidOunce), 45, 0.9), "2 %; printed low, as is its phosphorus")
	add(near(area, "phosphorus of an ounce of it", "UMassAcids", Published, "mg/L P", element(phosphoric, nutrients.Phosphorus, fluidOunce), 25.6, 0.5), "2 %; 75 % by volume and not by mass would give 25 to 26")
	add(near(area, "worked example: sulfuric acid of 93 % against 100 mg/L CaCO3 in 100 US gal", "UMassAcids", Published, "mL", 100/caco3(sulfuric93, 1), 23, 1), "4 %, for a factor of two digits; the factor printed, 0.23 mL, does not fit the 136 mg/L for an ounce beside it, which gives 0.217")

	// What falls out.
	for _, r := range rows("nutrient-precipitation-vectors") {
		name := r.text("recipe")
		macro := name
		if name == "modified_Sonneveld_lettuce(15.5-0-0)" {
			macro = "modified_Sonneveld_lettuce_100gal(15.5-0-0)"
		}
		base := vectorRecipe(macro)
		low, high := 1.0, 300.0
		for range 30 {
			mid := math.Sqrt(low * high)
			if got, _ := (nutrients.Solution{Ions: base.Times(mid), C: 20}).At(5.8); got.Gypsum < 1 {
				low = mid
			} else {
				high = mid
			}
		}
		want := r.f("gypsum_factor")
		add(near(area, "factor at which "+name+" in one vessel is saturated with gypsum", "PHREEQC2013", Independent, "times", low, want, 0.03*want), "3 %, for the law of activities at 0.2 to 0.7 mol/L")
		want = r.f("pH5.8")
		got, _ := (nutrients.Solution{Ions: base.Times(want), C: 20}).At(5.8)
		add(near(area, "saturation of CaHPO4·2H2O where "+name+" reaches it at pH 5.8", "PHREEQC2013", Independent, "", got.Brushite, 1, 0.1), fmt.Sprintf("at %g times; 10 %%, for enthalpies that are remembered", want))
	}
	pure := func(c float64) float64 { // mmol/L of gypsum in pure water
		low, high := 1.0, 40.0
		for range 40 {
			mid := (low + high) / 2
			s := nutrients.Solution{C: c}
			s.Ions[nutrients.Calcium], s.Ions[nutrients.Sulfur] = mid, mid
			if got, _ := s.At(7); got.Gypsum < 1 {
				low = mid
			} else {
				high = mid
			}
		}
		return low
	}
	add(near(area, "gypsum in pure water at 20 °C", "PHREEQC2013", Independent, "g/L", pure(20)*substance("gypsum").Molar/1000, 2.53, 0.05), "2 %")
	add(near(area, "gypsum in pure water at 25 °C", "PHREEQC2013", Independent, "g/L", pure(25)*substance("gypsum").Molar/1000, 2.57, 0.05), "2 %")
	for _, r := range rows("nutrient-single-tank-gypsum-loss") {
		s := nutrients.Solution{Ions: vectorRecipe("modified_Sonneveld_lettuce_100gal(15.5-0-0)").Times(r.f("factor")), C: 20}
		got := 100 * nutrients.Fallen(s) / s.Ions[nutrients.Calcium]
		add(near(area, fmt.Sprintf("calcium lost as gypsum from one tank at %g times", r.f("factor")), "PHREEQC2013", Published, "%", got, r.f("Ca_lost_percent"), 2), "2 points; up to 3 mol/L, where activities are rough")
	}
	return out
}
