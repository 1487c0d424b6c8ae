package wire

import "strconv"

// Aim is what brings a target of light.
type Aim struct {
	Bench     string     `json:"bench" doc:"its name"`
	Wanted    string     `json:"wanted" doc:"the question in words"`
	Currency  string     `json:"currency" doc:"of the money in the proposals, as the bench file names it"`
	Found     bool       `json:"found" doc:"it can be had; else after is the nearest"`
	Before    Proposal   `json:"before" doc:"the setting as it is"`
	After     Proposal   `json:"after" doc:"the setting that brings the target, or the nearest to it"`
	Figures   []Figure   `json:"figures_after" doc:"what the setting after brings, with working"`
	RunnerUps []Proposal `json:"runners_up" doc:"the next best settings, best first"`
	Curve     []Proposal `json:"electricity_against_evenness" doc:"proposals from the least electricity to the most even light"`
	Limits    []string   `json:"what_limits" doc:"what keeps the light from being better, in sentences"`
	Notes     []string   `json:"notes" doc:"what to know of it, in sentences"`
	Searched  int        `json:"settings_compared" doc:"how many settings were compared"`
}

// A DimmedLamp is a lamp with its dimming.
type DimmedLamp struct {
	Name    string  `json:"name" doc:"of the lamp on its bench"`
	X       float64 `json:"x_m" unit:"m" doc:"from the left"`
	Y       float64 `json:"y_m" unit:"m" doc:"from the front"`
	Dimming float64 `json:"dimming" min:"0" max:"1" doc:"share of full light, 0 to 1"`
}

// A Proposal is how lamps hang and burn, and what comes of it.
type Proposal struct {
	HeightM float64      `json:"height_m" unit:"m"`
	Hours   float64      `json:"hours" unit:"h" doc:"of light a day"`
	Layout  string       `json:"layout" doc:"of the lamps"`
	Lamps   []DimmedLamp `json:"lamps" doc:"each lamp with its dimming"`
	Lowest  Number       `json:"ppfd_darkest_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"at the darkest plant"`
	Mean    Number       `json:"ppfd_mean_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	Top     Number       `json:"ppfd_brightest_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	DLI     Number       `json:"dli_mean_mol_m2_d" unit:"mol m⁻² d⁻¹"`
	Uneven  Number       `json:"distance_from_target" doc:"root mean square of PPFD/wanted − 1 over the plants"`
	Within  int          `json:"plants_as_asked" doc:"how many plants get what was asked"`
	Under   Number       `json:"chance_under_target" min:"0" max:"1" doc:"the level being known only so well"`
	Watt    Number       `json:"power_w" unit:"W"`
	Day     Number       `json:"electricity_kwh_per_day" unit:"kWh d⁻¹"`
	Money   Number       `json:"money_per_day" doc:"in the currency of the answer"`
	Light   []string     `json:"light,omitempty" doc:"when the lamps burn"`
	Exact   bool         `json:"proven_best_dimming" doc:"the dimming is proven to be the best; else it is the best that was found"`
}

// Match is two groups of plants in one light.
type Match struct {
	By     string      `json:"matched_by" enum:"PPFD|DLI" doc:"what is made alike"`
	Found  bool        `json:"found" doc:"both can be brought to one light; else after is the nearest"`
	Before []MatchSide `json:"before" doc:"both groups as they are"`
	After  []MatchSide `json:"after" doc:"both groups as proposed"`
	Ratio  Number      `json:"second_over_first" doc:"light of the second group over that of the first"`
	Band   [2]Number   `json:"second_over_first_band_90" doc:"low and high"`
	Apart  Number      `json:"chance_more_than_5_percent_apart" min:"0" max:"1" doc:"chance that both are more than 5 % apart, the levels being known only so well"`
	Day    [2]float64  `json:"electricity_kwh_per_day_before_after" unit:"kWh d⁻¹"`
	Limits []string    `json:"what_limits" doc:"what keeps them apart, in sentences"`
	Notes  []string    `json:"notes" doc:"what to know of it, in sentences"`
}

// A MatchSide is one group.
type MatchSide struct {
	Bench   string       `json:"bench" doc:"its name"`
	Plants  []string     `json:"plants" doc:"names of the plants of the group"`
	HeightM float64      `json:"height_m" unit:"m"`
	Hours   float64      `json:"hours" unit:"h"`
	Lamps   []DimmedLamp `json:"lamps" doc:"each lamp with its dimming"`
	Level   Number       `json:"level" doc:"mean PPFD or DLI"`
	Unit    string       `json:"level_unit" doc:"of the level"`
	Low     Number       `json:"level_low_90" doc:"low end of the 90 % band, in the unit of the level"`
	High    Number       `json:"level_high_90" doc:"high end of the 90 % band, in the unit of the level"`
	Uneven  Number       `json:"spread_over_plants" doc:"standard deviation over mean"`
	Watt    Number       `json:"power_w" unit:"W"`
}

// Raise is a calendar that raises the lamps with the canopy.
type Raise struct {
	Bench  string      `json:"bench" doc:"its name"`
	Target Number      `json:"target_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"at the top of the canopy"`
	Moves  []RaiseMove `json:"moves" doc:"days on which lamps are moved"`
	Days   []RaiseDay  `json:"days" doc:"the light of every day"`
	Out    int         `json:"days_out_of_tolerance" doc:"how many days the light is out of tolerance"`
	Limits []string    `json:"what_limits" doc:"what keeps the light from being held, in sentences"`
	Notes  []string    `json:"notes" doc:"what to know of it, in sentences"`
}

// A RaiseMove is a day on which the lamps are moved.
type RaiseMove struct {
	Day  int     `json:"day" unit:"d" doc:"after transplanting"`
	Date string  `json:"date,omitempty" doc:"YYYY-MM-DD"`
	From float64 `json:"from_m" unit:"m"`
	To   float64 `json:"to_m" unit:"m"`
}

// A RaiseDay is the light of one day.
type RaiseDay struct {
	Day    int     `json:"day" unit:"d"`
	Date   string  `json:"date,omitempty" doc:"YYYY-MM-DD"`
	Canopy float64 `json:"canopy_m" unit:"m"`
	Low    float64 `json:"canopy_low_m" unit:"m" doc:"5th percentile"`
	High   float64 `json:"canopy_high_m" unit:"m" doc:"95th percentile"`
	Lamps  float64 `json:"lamps_m" unit:"m"`
	PPFD   Number  `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	Stay   Number  `json:"ppfd_if_left_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"had the lamps stayed"`
	Held   bool    `json:"within_tolerance" doc:"the light is within the tolerance"`
	Dim    Number  `json:"dimming_that_would_hold" doc:"factor on the dimming of now"`
}

// CSV is a row for each day.
func (r Raise) CSV() ([]string, [][]string) {
	head := []string{"day", "date", "canopy_m", "canopy_low_m", "canopy_high_m", "lamps_m", "ppfd_umol_m2_s", "ppfd_if_left_umol_m2_s", "within_tolerance"}
	rows := [][]string{}
	for _, d := range r.Days {
		rows = append(rows, []string{cell(float64(d.Day)), d.Date, cell(d.Canopy), cell(d.Low), cell(d.High), cell(d.Lamps), d.PPFD.cell(), d.Stay.cell(), strconv.FormatBool(d.Held)})
	}
	return head, rows
}

// An AimAsk is a target of light.
type AimAsk struct {
	PPFD       float64 `json:"ppfd_umol_m2_s,omitempty" unit:"µmol m⁻² s⁻¹" min:"0" max:"5000" doc:"level wanted; or say a DLI" example:"180"`
	DLI        float64 `json:"dli_mol_m2_d,omitempty" unit:"mol m⁻² d⁻¹" min:"0" max:"150" doc:"instead; the hours are then searched"`
	Goal       string  `json:"goal,omitempty" enum:"electricity|even|within" doc:"least electricity (if it is not said), most even light, or most plants near the target"`
	Mean       bool    `json:"mean,omitempty" doc:"the target is for the mean over the plants, not for each"`
	Share      float64 `json:"share,omitempty" min:"0" max:"1" doc:"of the plants that must have it; all if it is not said"`
	AtMost     float64 `json:"at_most_umol_m2_s,omitempty" unit:"µmol m⁻² s⁻¹" min:"0" max:"5000" doc:"for every plant"`
	Within     float64 `json:"within,omitempty" min:"0" max:"1" doc:"how near to the target counts as near; 0.1 if it is not said"`
	Sure       float64 `json:"sure,omitempty" min:"0" max:"0.999" doc:"how sure the target shall be reached; 0.5 if it is not said"`
	Hours      float64 `json:"hours,omitempty" unit:"h" min:"0" max:"24" doc:"of light a day"`
	FreeHours  bool    `json:"free_hours,omitempty" doc:"search the hours within the limits"`
	KeepHeight bool    `json:"keep_height,omitempty" doc:"leave the lamps where they hang"`
	OneDimmer  bool    `json:"one_dimmer,omitempty" doc:"all lamps hang on one dimmer"`
	MayBeOff   bool    `json:"may_be_off,omitempty" doc:"single lamps may be switched off"`
	Step       float64 `json:"dim_step,omitempty" min:"0" max:"0.5" doc:"of the dimmers; 0.05 if it is not said"`
	Stepless   bool    `json:"stepless,omitempty" doc:"dimmers have no steps"`
	Canopy     float64 `json:"canopy_m,omitempty" unit:"m" min:"0" max:"10" doc:"height at which the light is wanted"`
	Clearance  float64 `json:"clearance_m,omitempty" unit:"m" min:"0" max:"10" doc:"between plants and lamps, at least"`
}

// A MatchAsk asks for two groups of plants in one light.
type MatchAsk struct {
	With      string   `json:"with,omitempty" maxlen:"100" doc:"id of the other bench; missing: two groups of one"`
	First     []string `json:"first,omitempty" maxlen:"2000" doc:"names of the plants of the first group; all if it is not said"`
	Second    []string `json:"second,omitempty" maxlen:"2000"`
	By        string   `json:"by,omitempty" enum:"ppfd|dli" doc:"what shall be equal; ppfd if it is not said"`
	Level     float64  `json:"level,omitempty" min:"0" max:"5000" doc:"for both, in µmol m⁻² s⁻¹ or mol m⁻² d⁻¹; the lower of the two now if it is not said"`
	Highest   bool     `json:"highest,omitempty" doc:"the highest level that both can have, instead"`
	Heights   bool     `json:"heights,omitempty" doc:"search the heights too"`
	Canopy    float64  `json:"canopy_m,omitempty" unit:"m" min:"0" max:"10"`
	Step      float64  `json:"dim_step,omitempty" min:"0" max:"0.5" doc:"of the dimmers; 0.05 if it is not said"`
	Stepless  bool     `json:"stepless,omitempty"`
	Within    float64  `json:"within,omitempty" min:"0" max:"1" doc:"by how much the steps may leave the two apart; 0.02 if it is not said"`
	TwoMeters bool     `json:"two_meters,omitempty" doc:"the two benches were read by different meters"`
}

// A RaiseAsk asks for a calendar of moves.
type RaiseAsk struct {
	Target    float64 `json:"target_umol_m2_s,omitempty" unit:"µmol m⁻² s⁻¹" min:"0" max:"5000" doc:"mean at the top of the canopy; what the planting surface has now if it is not said"`
	Within    float64 `json:"within,omitempty" min:"0" max:"1" doc:"how far the light may stray; 0.05 if it is not said"`
	Step      float64 `json:"step_m,omitempty" unit:"m" min:"0" max:"2" doc:"by which the lamps can be raised; 0.02 if it is not said"`
	Clearance float64 `json:"clearance_m,omitempty" unit:"m" min:"0" max:"10" doc:"between plants and lamps; 0.05 if it is not said"`
}
