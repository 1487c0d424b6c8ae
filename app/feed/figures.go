package feed

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"underlamp/science/nutrients"
	"underlamp/science/quantity"
	"underlamp/working"
)

// ecGoodTo is how far the EC that is worked out may be from a reading, as a standard
// deviation: up to 2.4 % from PHREEQC2013 on eight recipes, 2 % for weighing and salts that are not
// dry, 2 % for a meter (the last two assumed, no source).
const ecGoodTo = 0.035

// inputs are target, water and products for the working.
func (a *Answer) inputs() []working.Input {
	p := a.Plan
	water := "stated"
	if !p.WaterGiven {
		water = "default"
	}
	out := []working.Input{working.Plain("water", fmt.Sprintf("%s, alkalinity %s meq/L", p.WaterName, quantity.Number(p.Water.Alkalinity, 3)), water)}
	for k, x := range a.Mix.Amount {
		if x > 0 {
			origin, note := "computed", p.Cupboard[k].Guess
			if note != "" {
				note = "taken as usual: " + note
			}
			out = append(out, working.Input{Name: p.Cupboard[k].Name, Value: quantity.Number(x, 4) + " " + p.Cupboard[k].Unit() + "/L", Origin: origin, Note: note})
		}
	}
	return append(out, working.Plain("temperature", quantity.Temperature.Format(p.Water.C, p.Units, 3), "stated"))
}

func (a *Answer) figures() {
	p, r, s := a.Plan, a.Mix.Reading, a.Mix.Solution
	in := a.inputs()
	figure := func(name string, v float64, unit string, digits int, w working.Working) {
		if w.Inputs == nil {
			w.Inputs = in
		}
		a.Figures = append(a.Figures, working.Figure{Name: name, Value: v, Unit: unit, Digits: digits, Working: w})
	}
	figure("EC at 25 °C", r.EC, "mS/cm", 3, working.Working{
		Formula: "EC = Σ |z| c λ(t, I) over free ions and charged pairs",
		Steps: []string{"λ of an ion at the ionic strength of the feed: the measured conductivity of a salt less that of its partner (potassium nitrate less potassium chloride, …)",
			fmt.Sprintf("ionic strength %s mmol/L", quantity.Number(1000*r.Strength, 3))},
		Sources: []string{"McCleskey2011", "PHREEQC2013"},
		Notes:   []string{"The band holds the model, weighing and the meter. Salts of a shop that are moist or off their label move it further."},
	})
	last := &a.Figures[len(a.Figures)-1]
	last.Band = working.Normal(r.EC, ecGoodTo*r.EC, 0.9)
	figure("feed pH, aerated", r.PH, "", 2, working.Working{
		Formula: "Σ strong cations − Σ strong anions = [HCO3⁻] + 2[CO3²⁻] + [HPO4²⁻] + [OH⁻] − [H⁺] + …, CO2 in balance with air of 420 ppm",
		Steps:   []string{fmt.Sprintf("alkalinity left %s meq/L", quantity.Fixed(s.Alkalinity, 3))},
		Sources: []string{"PHREEQC2013"},
		Notes:   []string{"A feed has little to hold its pH: plants and a few mL of acid move it by half a unit in a day. Mix, aerate, then measure."},
	})
	if a.Problem.Target.PH > 0 && !math.IsNaN(p.WaterPH) && p.Water.Alkalinity > 0.05 {
		closed, open := p.Water.AcidForPH(p.WaterPH, a.Problem.Target.PH)
		acid := working.Working{
			Formula: "acid = alkalinity − alkalinity at the wanted pH",
			Inputs: []working.Input{working.Plain("alkalinity", quantity.Number(p.Water.Alkalinity, 3)+" meq/L", "stated"), working.Plain("pH of the water", quantity.Number(p.WaterPH, 3), "stated"),
				working.Plain("wanted pH", quantity.Number(a.Problem.Target.PH, 3), "stated")},
			Sources: []string{"PHREEQC2013"},
			Notes:   []string{"Both are right: acid turns bicarbonate into CO2. In a closed pipe it stays and holds the pH down; in an aerated tank it leaves, the pH rises again, and more acid is needed. The amounts to weigh are for the aerated tank."},
		}
		figure("acid for the water if its CO2 leaves", open, "meq/L", 3, acid)
		figure("acid for the water if its CO2 stays", closed, "meq/L", 3, acid)
	}
	figure("osmotic potential", r.Osmotic, "MPa", 3, working.Working{Formula: "ψ = −φ R T Σ c, φ by Debye and Hückel", Sources: []string{"Pitzer1973"}, Notes: []string{"φ leaves out terms for single ions: a few per cent."}})
	n := s.Ions.TotalN()
	if n > 0 {
		figure("ammonium share of nitrogen", 100*s.Ions[nutrients.Ammonium]/n, "%", 2, working.Working{Formula: "NH4-N / (NO3-N + NH4-N)",
			Notes: []string{"Above half of the nitrogen it cut growth and calcium sharply (AmmoniumLettuce); a tenth is common practice, no source."}, Sources: []string{"AmmoniumLettuce"}})
	}
	if ca := s.Ions.MgL(nutrients.Calcium); ca > 0 {
		k, mg := s.Ions.MgL(nutrients.Potassium), s.Ions.MgL(nutrients.Magnesium)
		a.Figures = append(a.Figures, working.Figure{Name: "K : Ca : Mg by mass", Word: fmt.Sprintf("%s : 1 : %s", quantity.Number(k/ca, 2), quantity.Number(mg/ca, 2)), Value: k / ca, Working: working.Working{
			Formula: "mg/L of each over that of calcium", Inputs: in, Sources: []string{"BresWeston1992"},
			Notes: []string{"No ratio is a proven cause of burn: half as much potassium again made no consistent difference (BresWeston1992)."}}})
		f := OutlookFeed(s, r.EC)
		figure("calcium activity, as the outlook takes it", f.CalciumActivity(), "mmol/L", 3, working.Working{
			Formula: "a = γ c, log₁₀ γ = −0.509 z² √I / (1 + 3.29 å √I), I = 0.012 EC",
			Inputs:  []working.Input{working.Plain("calcium", quantity.Number(ca, 3)+" mg/L", "computed"), working.Plain("EC", quantity.Number(r.EC, 3)+" mS/cm", "computed")},
			Steps: []string{fmt.Sprintf("with pairs told apart it is %s mmol/L; %s of the calcium is paired with sulfate and phosphate", quantity.Number(r.CaActive, 3), working.Percent(r.CaPaired)),
				fmt.Sprintf("roots then take up calcium at %s of the most they can", working.Percent(f.Uptake(1)))},
			Sources: []string{"Kielland1937", "RootCalcium1973"},
		})
	}
	balance := a.Problem.Target.Ions
	if full := slices.Contains([]bool{a.Problem.Target.Asks[nutrients.Nitrate] && a.Problem.Target.Asks[nutrients.Calcium] && a.Problem.Target.Asks[nutrients.Sulfur] && a.Problem.Target.Asks[nutrients.Potassium]}, true); full {
		figure("charges of the target: cations less anions", balance.Charge(), "meq/L", 2, working.Working{
			Formula: "NH4 + K + 2 Ca + 2 Mg + Na − NO3 − H2PO4 − 2 SO4 − Cl", Inputs: []working.Input{
				working.Plain("cations", quantity.Number(balance.Cations(), 4)+" meq/L", "stated"), working.Plain("anions", quantity.Number(balance.Anions(), 4)+" meq/L", "stated")},
			Notes: []string{"Salts bring as many cations as anions. A target that is far from 0 can be met by no salts: what is left over must be bicarbonate, chloride or sodium, or an acid's anion."}})
	}
	figure("saturation of CaHPO4·2H2O", r.Brushite, "", 2, working.Working{Formula: "a(Ca²⁺) a(HPO4²⁻) / K", Sources: []string{"PHREEQC2013"},
		Notes: []string{fmt.Sprintf("Above 1 phosphate can fall out with calcium. It rises tenfold with each unit of pH: at this feed 1 is reached at pH %s.", brushitePH(s))}})
	if c := a.Mix.Cost; !math.IsNaN(c) && p.Currency != "" {
		figure("cost of salts and acid", 1000*c, p.Currency+"/m³", 3, working.Working{Formula: "Σ amount · price", Notes: []string{"Without water and work."}})
	}
}

// brushitePH is the pH at which a feed reaches the saturation of CaHPO4·2H2O.
func brushitePH(s nutrients.Solution) string {
	low, high := 4.0, 8.5
	at := func(ph float64) float64 { r, _ := s.At(ph); return r.Brushite }
	if at(high) < 1 {
		return "8.5 or more"
	}
	for range 20 {
		mid := (low + high) / 2
		if at(mid) < 1 {
			low = mid
		} else {
			high = mid
		}
	}
	return quantity.Fixed(low, 1)
}

// notes are what a person should know of the answer, and the cautions that it calls for.
func (a *Answer) notes() {
	p := a.Plan
	if !p.WaterGiven {
		a.Notes = append(a.Notes, "No water analysis is written: pure water is assumed. Tap water brings calcium, magnesium and alkalinity; ask the waterworks for its analysis.")
	} else if off := p.Water.Ions.Charge() - p.Water.Alkalinity; math.Abs(off) > 0.5 {
		a.Notes = append(a.Notes, fmt.Sprintf("The water analysis does not balance: its ions leave %s meq/L for bicarbonate and it names %s. An ion may be missing, or one is given in another form.", quantity.Fixed(p.Water.Ions.Charge(), 1), quantity.Fixed(p.Water.Alkalinity, 1)))
	}
	if p.Recipe != "" {
		if r, err := nutrients.FindRecipe(p.Recipe); err == nil {
			say := "Recipe: " + working.Cite(r.Source) + "."
			if r.Remembered() {
				_, why, _ := strings.Cut(r.Read, ": ")
				say = fmt.Sprintf("Recipe from memory, not checked against the print: %s. %s.", working.Cite(r.Source), capital(why))
			} else {
				say += " " + capital(r.Read) + "."
			}
			if r.Note != "" {
				say += " " + capital(r.Note) + "."
			}
			if !math.IsNaN(r.StatedEC) && p.Strength == 1 {
				say += fmt.Sprintf(" Stated EC %s mS/cm.", quantity.Number(r.StatedEC, 2))
			}
			a.Notes = append(a.Notes, say)
		}
	}
	if p.Litres.IsDefault() {
		a.Notes = append(a.Notes, "The volume of the tank is not written: "+p.Litres.Note+".")
	}
	for _, l := range a.weighed() {
		if l.MicroGrams > 0 {
			a.Notes = append(a.Notes, "What is less than "+quantity.Number(fineSteps/2*float64(p.Scale.Value), 2)+" g is too little for this scale: dissolve the grams that stand beside it in 1 L of water and take the mL. Keep such a stock dark and labelled.")
			break
		}
	}
	a.Cautions = cautionsOf(p.Cupboard, a.Mix.Amount)
}

// weighed are the lines that a person weighs: of the tank, or of the stock.
func (a *Answer) weighed() []Line {
	if a.Stock == nil {
		return a.Lines
	}
	var out []Line
	for _, p := range a.Stock.Parts {
		out = append(out, p.Lines...)
	}
	return append(out, a.Stock.Apart...)
}

// cautionsOf are those of what is weighed: amounts by product of the cupboard.
func cautionsOf(cupboard []nutrients.Product, amounts []float64) (out []string) {
	acid, oxidiser, caustic, licence := false, false, false, false
	for k, x := range amounts {
		s := cupboard[k].Substance
		if x == 0 || s == nil {
			continue
		}
		acid = acid || s.Caution == "acid"
		oxidiser = oxidiser || s.Caution == "oxidiser" || s.Name == "nitric acid"
		caustic = caustic || s.Caution == "caustic"
		licence = licence || s.Name == "nitric acid" && cupboard[k].Purity > 0.03 || s.Name == "sulfuric acid" && cupboard[k].Purity > 0.15
	}
	if acid {
		out = append(out, "Acid: goggles, gloves and apron, outdoors or under a hood. Acid into water, never water into acid. Never together with bleach, or nitric acid with organic matter. Dilute it before it meets a stock or a pump with metal. Keep it locked away from children.")
	}
	if caustic {
		out = append(out, "Hydroxides and silicates burn skin and eyes: goggles and gloves, into cold water a little at a time, never together with acid.")
	}
	if oxidiser {
		out = append(out, "Nitrates feed fire: dry, closed, away from fuel, oil, sulfur, sawdust and heat, not on a wooden shelf, out of children's reach.")
	}
	if licence {
		out = append(out, "In the European Union nitric acid above 3 % and sulfuric acid above 15 % are not for the general public without a licence (Regulation 2019/1148); elsewhere local law governs.")
	}
	return out
}
