package wire

// An Outlook is a crop from transplanting to harvest at a setting.
type Outlook struct {
	Bench   string       `json:"bench" doc:"its name"`
	Setting Setting      `json:"setting" doc:"for which it is computed"`
	Days    int          `json:"days" unit:"d" doc:"from transplanting to harvest"`
	Figures []Figure     `json:"figures" doc:"mass, chance of burn, electricity and money, each with its working"`
	Sold    Number       `json:"share_of_heads_sold" min:"0" max:"1" doc:"heavy enough, and no visible burn"`
	Course  []OutlookDay `json:"course" doc:"the mean plant, day by day"`
}

// An OutlookDay is one day of a crop.
type OutlookDay struct {
	Day      int    `json:"day" unit:"d" doc:"after transplanting"`
	PPFD     Number `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"at the top of the canopy"`
	DLI      Number `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹"`
	Fresh    Band   `json:"fresh_g" unit:"g"`
	Dry      Band   `json:"dry_g" unit:"g"`
	LeafArea Band   `json:"leaf_area_m2" unit:"m²"`
	Height   Band   `json:"height_m" unit:"m"`
	Water    Band   `json:"water_g_d" unit:"g d⁻¹"`
	Supply   Band   `json:"calcium_supply_mg_g" unit:"mg g⁻¹" doc:"calcium that arrives in the youngest leaves"`
	Calcium  Band   `json:"calcium_mg_g" unit:"mg g⁻¹" doc:"calcium in them"`
	Need     Band   `json:"calcium_need_mg_g" unit:"mg g⁻¹" doc:"below which they burn"`
	Chance   Number `json:"chance_of_burn" min:"0" max:"1" doc:"that it has burnt until then"`
}

// CSV is a row for each day.
func (o Outlook) CSV() ([]string, [][]string) {
	head := []string{"day", "ppfd_umol_m2_s", "dli_mol_m2_d", "fresh_g_low", "fresh_g", "fresh_g_high", "leaf_area_m2", "height_m", "water_g_d", "calcium_mg_g", "calcium_need_mg_g", "chance_of_burn"}
	rows := [][]string{}
	for _, d := range o.Course {
		rows = append(rows, []string{cell(float64(d.Day)), d.PPFD.cell(), d.DLI.cell(), d.Fresh.Low.cell(), d.Fresh.Mid.cell(), d.Fresh.High.cell(), d.LeafArea.Mid.cell(), d.Height.Mid.cell(), d.Water.Mid.cell(), d.Calcium.Mid.cell(), d.Need.Mid.cell(), d.Chance.cell()})
	}
	return head, rows
}

// Best is the setting that brings the most per kWh within the limits, and what else would help.
type Best struct {
	Bench     string      `json:"bench" doc:"its name"`
	Limit     Number      `json:"limit_of_burn" min:"0" max:"1" doc:"chance of burn that the bench allows"`
	Found     bool        `json:"found" doc:"a setting keeps the limits"`
	Now       Candidate   `json:"now" doc:"the setting as it is"`
	Best      *Candidate  `json:"best" doc:"null if none was found"`
	RunnerUps []Candidate `json:"runners_up" doc:"the next best settings, best first"`
	Searched  int         `json:"settings_compared" doc:"how many settings were compared"`
	Limits    []string    `json:"what_limits" doc:"what keeps it from being better, in sentences"`
	WhatIfs   []WhatIf    `json:"what_ifs" doc:"one change at a time, at the setting of now"`
	Fan       *Candidate  `json:"best_with_a_fan" doc:"null if a fan does not help or is there"`
}

// A Candidate is a setting and what it brings.
type Candidate struct {
	Setting Setting `json:"setting" doc:"height, dimming and hours"`
	PPFD    Number  `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	DLI     Number  `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹"`
	PerKWh  Number  `json:"saleable_g_per_kwh" unit:"g kWh⁻¹"`
	Band    *Band   `json:"saleable_g_per_kwh_band,omitempty" unit:"g kWh⁻¹"`
	Chance  Number  `json:"chance_of_burn" min:"0" max:"1" doc:"of inner burn in the bench"`
	Fresh   Number  `json:"fresh_g" unit:"g" doc:"of a head"`
	Sold    Number  `json:"share_of_heads_sold" min:"0" max:"1" doc:"that can be sold"`
}

// A WhatIf is one change of a bench and what it would do.
type WhatIf struct {
	Change   string `json:"change" doc:"what is changed, in words"`
	Chance   Number `json:"chance_of_burn" min:"0" max:"1" doc:"of inner burn after the change"`
	Points   Band   `json:"change_in_percentage_points" doc:"of the chance of burn"`
	Fresh    Number `json:"change_of_fresh_mass_share" doc:"of fresh mass, as a share"`
	PerKWh   Number `json:"change_of_saleable_g_per_kwh" unit:"g kWh⁻¹"`
	Judgment string `json:"judgment" doc:"helps, does harm, or hardly matters"`
}

// A SettingsMap is what a bench brings by light and hours.
type SettingsMap struct {
	Bench    string    `json:"bench" doc:"its name"`
	HeightM  float64   `json:"height_m" unit:"m" doc:"of the lamps, for the whole map"`
	PPFD     []float64 `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"columns: mean at the planting surface"`
	Hours    []float64 `json:"hours" unit:"h" doc:"rows: hours of light a day"`
	Chance   []Number  `json:"chance_of_burn" doc:"row by row"`
	PerKWh   []Number  `json:"saleable_g_per_kwh" unit:"g kWh⁻¹" doc:"row by row"`
	Fresh    []Number  `json:"fresh_g" unit:"g" doc:"of a head, row by row"`
	NowPPFD  float64   `json:"now_ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"as the bench is set"`
	NowHours float64   `json:"now_hours" unit:"h"`
	MinPPFD  float64   `json:"least_ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"that the lamps give at the lowest dimming"`
	MaxPPFD  float64   `json:"most_ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"that they give at the highest dimming allowed"`
}

// A Plan is the best of everything that can be turned.
type Plan struct {
	Bench    string       `json:"bench" doc:"its name"`
	Goal     string       `json:"goal" doc:"what it makes the most of"`
	Unit     string       `json:"unit" doc:"of its value"`
	Limit    Number       `json:"limit_of_burn" min:"0" max:"1" doc:"chance of burn that the bench allows"`
	Found    bool         `json:"found" doc:"a plan keeps the limits; else best is the nearest"`
	Now      PlanPoint    `json:"now" doc:"the bench as it is"`
	Best     PlanPoint    `json:"best" doc:"the best that was found"`
	Turned   []string     `json:"turned" doc:"what the search could turn"`
	Searched int          `json:"plans_compared" doc:"how many plans were compared"`
	Bounds   []PlanBound  `json:"bounds" doc:"limits that bind, and what a little more would bring"`
	Changes  []PlanChange `json:"single_changes" doc:"one at a time, on the bench as it is"`
	Frontier []PlanPoint  `json:"frontier,omitempty" doc:"the most by chance of burn"`
	Ramps    []PlanRamp   `json:"ramps,omitempty" doc:"light that changes over the cycle"`
}

// A PlanPoint is a bench turned in every way, and what it brings.
type PlanPoint struct {
	Setting Setting `json:"setting" doc:"height, dimming and hours"`
	Fan     string  `json:"fan" doc:"where it blows"`
	Speed   Number  `json:"air_speed_m_s" unit:"m s⁻¹"`
	Night   Number  `json:"night_humidity" min:"0" max:"1" doc:"relative humidity at night"`
	CO2     Number  `json:"co2_ppm" unit:"ppm"`
	Density Number  `json:"plants_per_m2" unit:"m⁻²"`
	Days    int     `json:"days" unit:"d"`
	Value   Number  `json:"value" doc:"in the unit of the plan"`
	Chance  Number  `json:"chance_of_burn" min:"0" max:"1" doc:"of inner burn"`
	Fresh   Number  `json:"fresh_g" unit:"g"`
	Sold    Number  `json:"share_of_heads_sold" min:"0" max:"1" doc:"that can be sold"`
	KWh     Number  `json:"kwh" unit:"kWh" doc:"of a cycle"`
	Heads   Number  `json:"heads" doc:"how many heads stand on the bench"`
}

// A PlanBound is a limit that binds.
type PlanBound struct {
	Bound string `json:"bound" doc:"what binds, in words"`
	Gain  Band   `json:"gain" doc:"of a little more"`
	Told  bool   `json:"beyond_noise" doc:"the gain is more than the noise of the computation"`
}

// A PlanChange is one change of the bench as it is.
type PlanChange struct {
	Change string    `json:"change" doc:"what is changed, in words"`
	From   string    `json:"from" doc:"as it is, with its unit"`
	To     string    `json:"to" doc:"as it would be, with its unit"`
	Gain   Band      `json:"gain" doc:"over the bench as it is, in the unit of the plan"`
	Points Band      `json:"change_of_chance_points" doc:"percentage points of the chance of burn"`
	Serves bool      `json:"within_limits" doc:"the limit of burn is kept and most heads are sold"`
	After  PlanPoint `json:"after" doc:"the bench after the change"`
}

// A PlanRamp is light that changes over the cycle.
type PlanRamp struct {
	Ramp    string     `json:"ramp" doc:"how the light changes, in words"`
	Dimmers []RampStep `json:"dimmers" doc:"dimming by day"`
	Gain    Band       `json:"gain_over_constant" doc:"over the best constant light, in the unit of the plan"`
	Chance  Number     `json:"chance_of_burn" min:"0" max:"1" doc:"of inner burn"`
	Pays    bool       `json:"beyond_noise" doc:"the gain is more than the noise of the computation"`
}

// A RampStep is a dimming from a day on.
type RampStep struct {
	Day     int    `json:"from_day" unit:"d"`
	Dimming Number `json:"dimming" min:"0" max:"1" doc:"share of full light, 0 to 1"`
}
