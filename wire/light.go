package wire

// A Setting is how the lamps of a bench hang and burn.
type Setting struct {
	HeightM float64 `json:"height_m" unit:"m" doc:"of the lamps over the planting surface; the mean, where they hang apart" example:"0.34"`
	Dimming float64 `json:"dimming" min:"0" max:"1" doc:"mean dimming, a share of full power" example:"0.7"`
	Hours   float64 `json:"hours" unit:"h" min:"0" max:"24" doc:"of light a day" example:"16"`
}

// Light is the light of a bench at a setting.
type Light struct {
	Bench    string         `json:"bench" doc:"its name"`
	Setting  Setting        `json:"setting" doc:"for which it is computed"`
	Figures  []Figure       `json:"figures" doc:"mean, spread and the like, each with its working"`
	Plants   []PlantLight   `json:"plants" doc:"the light at each plant, in the order of the bench file"`
	Readings []LightReading `json:"readings" doc:"each reading of a meter beside what the lamps and walls should give there"`
	Map      LightMap       `json:"map" doc:"light over the bench, in a grid"`
	Field    LightField     `json:"residual_field" doc:"what lamps and walls leave of the readings, carried over the bench"`
	Next     *NextReading   `json:"next_reading" doc:"where one more reading would tell most; null if no place is lit"`
	Notes    []string       `json:"notes" doc:"what to know of it, in sentences"`
}

// PlantLight is the light at one plant.
type PlantLight struct {
	Name   string    `json:"name" doc:"of the plant"`
	X      float64   `json:"x_m" unit:"m" doc:"from the left"`
	Y      float64   `json:"y_m" unit:"m" doc:"from the front"`
	PPFD   Number    `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	PPFDSD Number    `json:"ppfd_sd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"standard deviation, 1 σ"`
	DLI    Number    `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹"`
	DLISD  Number    `json:"dli_sd_mol_m2_d" unit:"mol m⁻² d⁻¹"`
	Share  Number    `json:"share_of_mean" doc:"PPFD over the mean of all plants"`
	Top    *TopLight `json:"top,omitempty" doc:"at its top, where the bench says how tall it stands"`
}

// TopLight is the light at the top of a plant.
type TopLight struct {
	Height Number `json:"height_m" unit:"m"`
	PPFD   Number `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	Taken  Number `json:"taken_by_neighbours" min:"0" max:"1" doc:"share of the light that taller neighbours keep away, at most"`
}

// A LightReading is a reading of a meter beside the model.
type LightReading struct {
	Name     string   `json:"name" doc:"of the place of the reading"`
	Measured Number   `json:"measured_umol_m2_s" unit:"µmol m⁻² s⁻¹"`
	Model    Number   `json:"model_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"of lamps and walls"`
	End      Number   `json:"with_field_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"with the residual field"`
	Z        Number   `json:"z" doc:"difference in standard deviations"`
	FarOff   bool     `json:"far_off" doc:"it is far off the model"`
	Reasons  []string `json:"reasons,omitempty" doc:"what could explain it"`
}

// A LightField is what lamps and walls leave of the readings.
type LightField struct {
	Used    bool     `json:"used" doc:"the field corrects the light"`
	Why     string   `json:"why" doc:"it is used, or not"`
	Usable  int      `json:"usable_readings" doc:"how many readings could be used"`
	SD      Number   `json:"relative_sd" doc:"of the field before the readings"`
	LengthM Number   `json:"length_m" unit:"m" doc:"over which it changes"`
	Before  Number   `json:"mean_ppfd_before_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"mean at the plants without it"`
	Plants  []Number `json:"factor_on_plants" doc:"in the order of the plants"`
	Map     []Number `json:"factor_on_map,omitempty" doc:"in the order of the map"`
}

// A NextReading is where one more reading would tell most.
type NextReading struct {
	XM     Number `json:"x_m" unit:"m"`
	YM     Number `json:"y_m" unit:"m"`
	ZM     Number `json:"z_m" unit:"m"`
	Expect Number `json:"expect_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"what a meter should read there"`
	Before Number `json:"relative_sd_before" doc:"of the light at the plants"`
	After  Number `json:"relative_sd_after" doc:"of the light at the plants, with the reading"`
	Gain   Figure `json:"figure" doc:"how much the reading would narrow the light, with working"`
}

// A LightMap is PPFD over the planting surface.
type LightMap struct {
	X    []float64 `json:"x_m" unit:"m" doc:"columns, from the left"`
	Y    []float64 `json:"y_m" unit:"m" doc:"rows, from the front"`
	PPFD []Number  `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"row by row from the front, left to right"`
}

// CSV is a row for each plant.
func (l Light) CSV() ([]string, [][]string) {
	head := []string{"plant", "x_m", "y_m", "ppfd_umol_m2_s", "ppfd_sd_umol_m2_s", "dli_mol_m2_d", "dli_sd_mol_m2_d", "share_of_mean"}
	rows := [][]string{}
	for _, p := range l.Plants {
		rows = append(rows, []string{p.Name, cell(p.X), cell(p.Y), p.PPFD.cell(), p.PPFDSD.cell(), p.DLI.cell(), p.DLISD.cell(), p.Share.cell()})
	}
	return head, rows
}
