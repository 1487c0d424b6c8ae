package outlook

import (
	"fmt"
	"math"
	"slices"

	"underlamp"
	"underlamp/science/moistair"
	"underlamp/science/quantity"
	"underlamp/working"
)

// Level of the bands of a forecast.
const bandLevel = 0.9

// Figures are the headline figures of a forecast with their workings, in the
// order that a person reads them.
func (o *Outlook) Figures(f *Forecast) []working.Figure {
	b := o.b.With(f.Setting)
	u := b.Units
	n := len(o.ens.traits)
	growth := working.Working{
		Formula: "per plant: dX_n/dt = c_α f_phot − r_gr X_s/c_β − f_resp, dX_s/dt = r_gr X_s; leaf area = 381 cm² · (shoot g)^0.931 · f(DLI); fresh = dry / share(dry)",
		Inputs: append(o.lightInputs(f),
			working.Of("CO2", b.Air.CO2, quantity.GasShare, u),
			working.Of("temperature by day", b.Air.Day.Temperature, quantity.Temperature, u),
			working.Of("temperature by night", b.Air.Night.Temperature, quantity.Temperature, u),
			working.Of("fresh mass at transplanting", b.Crop.StartMass, quantity.Mass, u),
			working.Plain("days to harvest", fmt.Sprint(f.Days), b.Crop.Days.Origin.String()),
			cropInput(b),
			working.Plain("ground of a plant", quantity.Number(1e4*start(b).GroundM2, 3)+" cm²", "computed"),
		),
		Steps:   []string{fmt.Sprintf("%d draws of the uncertain traits and of the light level, in up to %d classes of equal light; the figure is the median, the band holds 90 %% of the draws.", n, maxClasses)},
		Sources: []string{"VanHenten1994", "WUR2021", "TalbotMonfet2024", "Carotti2021", "Jin2023"},
		Notes: []string{
			"The band holds what cultivars and plants may do and how sure the light is. It does not hold a wrong model: docs/validation.md prints its errors on published trials.",
			fmt.Sprintf("This forecast makes %s g of dry shoot for each mol of light on the planting surface. Over 53 plant-factory studies the mean was 0.55 (Jin2023); the trial that calibrates had 0.76 to 1.01. A bench that does usual rather than best work will harvest less.", quantity.Number(o.perMol(f), 2)),
			learnedNote(b),
		},
	}
	for _, s := range b.Crop.Spacing {
		growth.Inputs = append(growth.Inputs, working.Plain(fmt.Sprintf("spacing until day %d", s.Until), quantity.PlantDensity.Format(s.Density, u, 3), "stated"))
	}
	if len(b.Crop.Spacing) > 0 {
		growth.Notes = append(growth.Notes, "While plants stand closer each has the light of its later place over less ground. The electricity of the bench is charged whole.")
	}
	typed := typeOf(b)
	growth.Inputs = append(growth.Inputs, typed.inputs...)
	growth.Notes = append(growth.Notes, typed.growth...)
	for _, key := range typed.sources {
		if !slices.Contains(growth.Sources, key) {
			growth.Sources = append(growth.Sources, key)
		}
	}
	feed := []working.Input{
		working.Of("calcium in the feed", b.Feed.Calcium, quantity.Concentration, u),
		working.Of("ammonium nitrogen in the feed", b.Feed.Ammonium, quantity.Concentration, u),
		working.Of("potassium in the feed", b.Feed.Potassium, quantity.Concentration, u),
		working.Of("magnesium in the feed", b.Feed.Magnesium, quantity.Concentration, u),
		working.Of("EC of the feed", b.Feed.EC, quantity.Conductivity, u),
		working.Of("temperature of the roots", b.Feed.RootTemp, quantity.Temperature, u),
	}
	calcium := working.Working{
		Formula: "dc/dt = X w − r c, apart for light and dark hours; w_day = D t A / (r_s + r_a + (1 + s/γ) R), w_night by root pressure; want = (1 − c/N)/0.55; each day 1 − exp(−want/B) of the young leaves burn; seen when one leaf has burnt",
		Inputs: append(append(o.lightInputs(f),
			working.Of("temperature by day", b.Air.Day.Temperature, quantity.Temperature, u),
			working.Of("temperature by night", b.Air.Night.Temperature, quantity.Temperature, u),
			working.Of("humidity by day", b.Air.Day.Humidity, quantity.Share, u),
			working.Of("humidity by night", b.Air.Night.Humidity, quantity.Share, u),
			working.Of("air speed", b.Air.Speed, quantity.AirSpeed, u),
			working.Plain("fan", string(b.Air.Fan.Value), b.Air.Fan.Origin.String()),
			cropInput(b),
			working.Plain("tendency of the cultivar", string(b.Crop.Tendency.Value), b.Crop.Tendency.Origin.String()),
		), feed...),
		Steps: []string{
			fmt.Sprintf("Share of %d draws, over all classes of plants, that show burn before harvest.", n),
			"Roots take up " + working.Percent(o.uptake(b)) + " of the most they can: a/(a + K (1 + NH4/4 + Mg/4 + K/20)) in mmol/L, a the activity of calcium at the ionic strength that the EC tells, K = 0.0385.",
		},
		Sources: []string{"BartaTibbitts1991", "ErtleKubota2023a", "Sago2016", "Frantz2004", "Vanhassel2015", "Graamans2017", "Scaife1973", "RootCalcium1973", "Kielland1937", "AmmoniumLettuce"},
		Notes: []string{
			"Nothing published gives the resistance inside a closing heart: it was fitted, with a wide spread, to the onset and extent of burn in ten cultivars. The chance is good for comparing settings; its level may be off by a half of itself either way.",
			"Air temperature: at the same vapour deficit warm air burns far more than cool; at the same relative humidity, where warm air is drier, a little more. Trials found warm worse (docs/validation.md, T13), but heads are forecast too heavy in cool air, so do not choose a temperature by it. Warmer roots under the same air help, as in a trial (T10).",
		},
	}
	if !b.Air.Altitude.IsDefault() { // by the psychrometric constant, so hardly
		calcium.Inputs = append(calcium.Inputs, working.Of("altitude", b.Air.Altitude, quantity.Altitude, u))
	}
	calcium.Notes = append(calcium.Notes, typed.burn...)
	severity := calcium
	severity.Formula = "grade of a plant by its share of burnt leaves: 0 none seen, 1 under 5 %, 2 from 5 %, 3 from 15 %, 4 from 30 %, 5 from 50 %"
	severity.Steps = []string{
		fmt.Sprintf("Mean over %d draws and all classes of plants; 90 %% of the plants lie within the band.", n),
		"On the mean plant " + working.Percent(f.Burnt) + " of the leaves show burn at harvest.",
	}
	severity.Notes = append([]string{"Scores of 0 to 5 are usual in trials, but no published wording could be read: the bounds are the project's own."}, calcium.Notes...)
	vpd := float64(moistair.VPD(b.Air.Day.Temperature.Value, b.Air.Day.Humidity.Value))
	yes := map[bool]string{true: "passed", false: "kept"}
	margin := working.Working{
		Formula: "low if EC ≤ 2.6 mS/cm and VPD by day ≤ 1.49 kPa; raised if one is passed; high if both are, or the salt that transpiration carries is twice that at both limits",
		Inputs: []working.Input{
			working.Of("EC of the feed", b.Feed.EC, quantity.Conductivity, u),
			working.Of("temperature by day", b.Air.Day.Temperature, quantity.Temperature, u),
			working.Of("humidity by day", b.Air.Day.Humidity, quantity.Share, u),
		},
		Steps: []string{
			fmt.Sprintf("Salt: limit %s. Air: VPD by day %s kPa, limit %s.", yes[f.Margins.Salty], quantity.Number(vpd, 2), yes[f.Margins.Dry]),
			fmt.Sprintf("Salt carried to the leaf margins: EC/2.6 · D f(D)/(D f(D) at 1.49 kPa) = %s of that at both limits; stomata close as air dries, f(D) = 1 + 5.79/√D.", quantity.Number(f.Margins.Load, 2)),
			"Yield that the salt alone would cost: " + working.Percent(f.Margins.Loss) + ", 13 % for each dS/m of the soil extract above 1.3, which a solution reaches at twice its EC.",
		},
		Sources: []string{"Maas1990", "AyersWestcot1985", "BrechnerBoth2013", "DeKauwe2015"},
		Notes: []string{
			"Another burn than the inner one: brown edges on the outer, older leaves. What dries the outer leaves helps the heart, so the two pull against each other.",
			"No published count of burnt margins against salt and air was found, so this is a grade and no chance. The limit of the air is 50 % at 24 °C (second-hand); that of the grade high is assumed, no source.",
		},
	}
	water := working.Working{
		Formula: "R = H + λE for the leaves over the crown; r_s = 60 (1500 + PPFD)/(200 + PPFD) / f(VPD), r_a = 350 √(l/u)/LAI",
		Inputs: append(o.lightInputs(f),
			working.Of("humidity by day", b.Air.Day.Humidity, quantity.Share, u),
			working.Of("air speed", b.Air.Speed, quantity.AirSpeed, u)),
		Sources: []string{"Graamans2017", "Medlyn2011", "DeKauwe2015"},
		Notes:   []string{"The published resistance in the dark is too high: it computes 0.011 where 0.016 g/m²/s was measured, so water by night is about a third short."},
	}
	height := working.Working{
		Formula: "h = 2.6 cm · ∛(fresh g) · (200/PPFD)^0.2 below 200 µmol/m²/s",
		Sources: nil,
		Notes:   []string{"Common practice, no source: a butterhead of 150 g stands about 14 cm high."},
	}
	electric := working.Working{
		Formula: "kWh = Σ lamps W · dimming · hours · days / 1000",
		Inputs:  o.powerInputs(b),
		Notes:   []string{"Lamps only. Fans, pumps, heating, cooling and drying of the air are not in it."},
	}
	kwh := working.Plain("kWh of the cycle", quantity.Number(float64(f.Energy.KWh), 3)+" kWh", "computed")
	perKWh := working.Working{
		Formula: "saleable g / kWh; a head is saleable if it is heavy enough, compact, and without visible burn",
		Inputs: []working.Input{
			working.Of("smallest saleable head", b.Crop.Saleable, quantity.Mass, u),
			working.Plain("heads sold", working.Percent(f.Sold), "computed"),
			kwh,
		},
		Steps: []string{"Mean over the draws; the band is that of one draw, in which all plants share the traits of one possible cultivar."},
	}

	lengthUnit, perMetre := quantity.Length.Shown(u) // as the lamp heights, to which it is compared
	figs := []working.Figure{
		banded("fresh mass of a head at harvest", f.Fresh, "g", growth),
		banded("dry mass of a shoot", f.Dry, "g", growth),
		banded("height of a head", Band{f.Height.Low * perMetre, f.Height.Mid * perMetre, f.Height.High * perMetre}, lengthUnit, height),
		banded("leaf area of a plant", Band{f.LeafArea.Low * 1e4, f.LeafArea.Mid * 1e4, f.LeafArea.High * 1e4}, "cm²", growth),
		{
			Name: "chance of inner tipburn", Value: 100 * f.Chance, Unit: "%", Digits: 2,
			Band:    &working.Band{Low: 100 * f.ChanceLow, High: 100 * f.ChanceHigh, Over: "over the plants, from the least to the most light"},
			Working: calcium,
		},
		banded("day on which burn is first seen, if at all", f.FirstBurn, "", calcium),
		{
			Name: "severity of inner tipburn, 0 to 5", Value: f.Severity.Mid, Digits: 2,
			Band:    &working.Band{Low: f.Severity.Low, High: f.Severity.High, Over: "over plants and draws, 90 %"},
			Working: severity,
		},
		{Name: "risk of burnt margins on the outer leaves", Value: float64(f.Margins.Level), Word: f.Margins.Level.String(), Working: margin},
		{
			Name: "chance of a loose head", Value: 100 * f.Loose, Unit: "%", Digits: 2,
			Working: working.Working{
				Formula: "share of draws whose mean PPFD at the canopy in the second half of the cycle stays below what makes a compact head",
				Inputs:  append(o.lightInputs(f), working.Plain("needed for a compact head", "150 µmol/m²/s, two thirds of draws within 123 to 183", "default")),
				Sources: []string{"Voutsinos2021", "Sago2016"},
				Notes:   []string{"Two studies bound it; none gives the threshold itself, and nothing is known for other head types. Blue and far-red light change it too."},
			},
		},
		banded("water of a head to harvest", f.Water, "L", water),
		{Name: "electricity of the cycle", Value: float64(f.Energy.KWh), Unit: "kWh", Working: electric},
		{Name: "electricity of a head", Value: float64(f.Energy.PerHead), Unit: "kWh", Working: electric},
		banded("saleable mass per kWh", f.PerKWh, "g/kWh", perKWh),
	}
	figs = append(figs, o.moneyFigures(b, f, kwh)...)
	if math.IsNaN(f.FirstBurn.Mid) {
		figs[5].Band = nil
	}
	return figs
}

// cropInput says where the plants of the forecast come from.
func cropInput(b *underlamp.Bench) working.Input {
	p := b.Crop.Profile
	if p == nil {
		return working.Input{Name: "plants", Value: "as usual for " + b.Crop.Species.Value, Origin: underlamp.Default.String(), Note: "nothing was learned of this cultivar here; underlamp learn does it"}
	}
	return working.Input{Name: "plants", Value: "learned from " + cycles(p), Origin: "learned", Note: fmt.Sprintf("profile %s (%s) of %s", p.Name, p.File, p.Made)}
}

// cycles counts the cycles of a profile.
func cycles(p *underlamp.Profile) string {
	if p.Summary.Cycles == 1 {
		return "1 cycle"
	}
	return fmt.Sprintf("%d cycles", p.Summary.Cycles)
}

// learnedNote says what was learned of the cultivar.
func learnedNote(b *underlamp.Bench) string {
	p := b.Crop.Profile
	if p == nil {
		return "Nothing has been recorded of this cultivar here, so nothing of it is in the forecast."
	}
	return fmt.Sprintf("Learned from %s with %d observations of %d plants (profile %s of %s). It holds for the room, the lamps and the care that it was learned under.", cycles(p), p.Summary.Data, p.Summary.Plants, p.Name, p.Made)
}

func banded(name string, b Band, unit string, w working.Working) working.Figure {
	return working.Figure{Name: name, Value: b.Mid, Unit: unit, Band: &working.Band{Low: b.Low, High: b.High, Level: bandLevel}, Working: w}
}

// uptake is the share of their most at which the roots of a bench take up calcium.
func (o *Outlook) uptake(b *underlamp.Bench) float64 {
	return environment(b, b.Setting().Hours).Feed.Uptake(central(b).Heart.Rivals)
}

// perMol is the dry shoot per incident light, g per mol on the planting surface.
func (o *Outlook) perMol(f *Forecast) float64 {
	perDay := float64(quantity.DailyLight(quantity.PPFD(f.AtSurface), f.Day))
	st := start(o.b)
	return f.Dry.Mid / st.MeanGround(f.Days) / (perDay * float64(f.Days))
}

// lightInputs are the light that a forecast rests on.
func (o *Outlook) lightInputs(f *Forecast) []working.Input {
	u := o.b.Units
	first, last := f.Course[0], f.Course[len(f.Course)-1]
	return []working.Input{
		working.Plain("PPFD at the canopy, first day", quantity.PhotonFluxDensity.Format(first.PPFD, u, 3), "computed"),
		working.Plain("PPFD at the canopy, last day", quantity.PhotonFluxDensity.Format(last.PPFD, u, 3), "computed"),
		working.Plain("hours of light", quantity.Duration.Format(float64(f.Day), u, 3), o.b.Origins(f.Setting).Hours.String()),
	}
}

func (o *Outlook) powerInputs(b *underlamp.Bench) []working.Input {
	var in []working.Input
	seen := map[string]int{}
	for _, l := range b.Lamps {
		seen[l.Kind]++
	}
	done := map[string]bool{}
	for _, l := range b.Lamps {
		if done[l.Kind] {
			continue
		}
		done[l.Kind] = true
		x := working.Of(fmt.Sprintf("power of %s (%d of them)", l.Kind, seen[l.Kind]), l.Power, quantity.Power, b.Units)
		in = append(in, x)
	}
	s := b.Setting()
	from := o.b.Origins(s)
	return append(in,
		working.Plain("dimming", quantity.Share.Format(float64(s.Dimming), b.Units, 3), from.Dimming.String()),
		working.Plain("hours", quantity.Duration.Format(float64(s.Hours), b.Units, 3), from.Hours.String()),
		working.Plain("days", fmt.Sprint(b.Crop.Days.Value), b.Crop.Days.Origin.String()))
}
