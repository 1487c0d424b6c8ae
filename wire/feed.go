package wire

// A FeedRecipe is a published target of a feed.
type FeedRecipe struct {
	Name   string            `json:"name"`
	Source string            `json:"source"`
	Read   string            `json:"read" doc:"how the figures came here"`
	EC     Number            `json:"stated_ec_ms_cm" unit:"mS/cm" doc:"at 25 °C, as the source has it; null if it does not"`
	Ions   map[string]Number `json:"ions_mg_l" doc:"of the element, mg/L"`
	Note   string            `json:"note,omitempty"`
}

// A FeedSubstance is a salt, acid or base that products are made of.
type FeedSubstance struct {
	Name    string   `json:"name"`
	Also    []string `json:"also" doc:"other names, formulas"`
	Formula string   `json:"formula"`
	Molar   Number   `json:"g_mol" unit:"g/mol"`
	Holds   []string `json:"holds" doc:"ions, by symbol"`
	Caution string   `json:"caution,omitempty"`
}

// A Feed says which feed files a bench has.
type Feed struct {
	Files   []string  `json:"files" doc:"the one that the bench takes its feed from first"`
	From    string    `json:"from,omitempty" doc:"the one that the outlook of the bench rests on; missing if it rests on figures of the bench file"`
	Calcium FeedGiven `json:"calcium" doc:"that the outlook uses, mg/L"`
	EC      FeedGiven `json:"ec" doc:"that the outlook uses, mS/cm"`
}

// FeedGiven is a figure with where it came from.
type FeedGiven struct {
	Value  Number `json:"value"`
	Origin string `json:"origin" doc:"measured, label, computed, default, …"`
}

// FeedAnswers are what a first feed is made of.
type FeedAnswers struct {
	Recipe   string   `json:"recipe" maxlen:"100" doc:"by name; see /feed/recipes" example:"lettuce of 2014"`
	Volume   string   `json:"volume" maxlen:"40" doc:"of the tank, with its unit" example:"80 L"`
	Water    []string `json:"water,omitempty" maxlen:"40" doc:"lines of the analysis of the water, each ca: 38 mg/L; pure water is assumed without"`
	Products []string `json:"products" minlen:"1" maxlen:"60" doc:"names of substances that are in the cupboard; see /feed/substances"`
	Metal    string   `json:"metal,omitempty" maxlen:"40" doc:"share of metal of the chelate, by its label" example:"11 %"`
	Strength string   `json:"acid,omitempty" maxlen:"40" doc:"of the acid, by its label" example:"38 %"`
}

// A FeedMix is what to weigh, and what the feed then is.
type FeedMix struct {
	File     string      `json:"file"`
	Name     string      `json:"name"`
	Recipe   string      `json:"recipe,omitempty"`
	WhatIf   bool        `json:"what_if" doc:"something differs from the file"`
	Litres   Number      `json:"litres" unit:"L"`
	Lines    []FeedLine  `json:"lines" doc:"what goes into the tank when no stock is kept"`
	Ions     []FeedIon   `json:"ions"`
	EC       Number      `json:"ec_ms_cm" unit:"mS/cm" doc:"at 25 °C"`
	PH       Number      `json:"ph" doc:"in balance with air"`
	Stock    []FeedStock `json:"stock" doc:"tanks or blends; empty if none is kept"`
	Apart    []FeedLine  `json:"into_the_feed" doc:"acids and bases that go into the feed itself where a stock is kept"`
	Verdicts []string    `json:"stock_says"`
	Checks   []FeedCheck `json:"checks" doc:"what of water, target, cupboard and stock was looked at"`
	Off      []string    `json:"off" doc:"what is off target, and why"`
	Remedies []string    `json:"remedies"`
	Figures  []Figure    `json:"figures"`
	Notes    []string    `json:"notes"`
	Cautions []string    `json:"cautions"`
}

// A FeedLine is one product to weigh or measure.
type FeedLine struct {
	Product    string  `json:"product"`
	Amount     Number  `json:"amount" doc:"rounded where a scale can show it"`
	Unit       string  `json:"unit" enum:"g|mL"`
	Exact      Number  `json:"exact"`
	MicroGrams *Number `json:"micro_g,omitempty" unit:"g" doc:"what is too little for the scale: so much into a litre of water"`
	MicroML    *Number `json:"micro_ml,omitempty" unit:"mL" doc:"and so much of that"`
	Note       string  `json:"note,omitempty"`
}

// A FeedIon is one ion of a feed.
type FeedIon struct {
	Ion   string  `json:"ion" doc:"its symbol" example:"Ca"`
	Want  *Number `json:"want_mg_l,omitempty" unit:"mg/L" doc:"of the element; missing if it is not asked for"`
	Got   Number  `json:"got_mg_l" unit:"mg/L"`
	Water Number  `json:"water_mg_l" unit:"mg/L" doc:"that the water brings; in a correction what the tank holds now"`
	Off   bool    `json:"off,omitempty"`
	Why   string  `json:"why,omitempty" doc:"it is off"`
}

// A FeedStock is one tank of stock, or one blend.
type FeedStock struct {
	Name  string     `json:"name"`
	Lines []FeedLine `json:"lines"`
	Use   string     `json:"use" doc:"how much of it for the feed"`
	Clear bool       `json:"clear" doc:"nothing falls out"`
	Most  *Number    `json:"clear_to,omitempty" doc:"times the feed up to which it stays clear; missing beyond 1000"`
}

// A FeedCheck is one thing that was looked at.
type FeedCheck struct {
	What    string `json:"what"`
	Verdict string `json:"verdict"`
	OK      bool   `json:"ok"`
}

// A FeedCorrection is what to do with a running tank.
type FeedCorrection struct {
	File     string     `json:"file"`
	Of       string     `json:"of,omitempty" doc:"day of the entry of the log that is corrected; missing if it was asked for"`
	Litres   Number     `json:"litres" unit:"L" doc:"that are in it; null if they were not read"`
	Replace  bool       `json:"replace" doc:"a new tank is simpler"`
	Drain    Number     `json:"drain_share" min:"0" max:"1" doc:"of what is in it, to let out first"`
	Water    Number     `json:"water_l" unit:"L" doc:"to fill up"`
	Guessed  bool       `json:"guessed" doc:"not all ions were measured"`
	Do       []string   `json:"do" doc:"in order"`
	Lines    []FeedLine `json:"lines" doc:"to weigh into the full tank"`
	Ions     []FeedIon  `json:"ions"`
	Figures  []Figure   `json:"figures"`
	Notes    []string   `json:"notes"`
	Cautions []string   `json:"cautions"`
}

// A FeedEntry is one look at the tank.
type FeedEntry struct {
	Date   string            `json:"date"`
	New    bool              `json:"new,omitempty" doc:"the tank was made up anew"`
	Volume Number            `json:"volume_l" unit:"L" doc:"before anything was added; null if it was not read"`
	EC     Number            `json:"ec_ms_cm" unit:"mS/cm"`
	PH     Number            `json:"ph"`
	C      Number            `json:"temperature_c" unit:"°C"`
	Ions   map[string]Number `json:"ions_mg_l,omitempty" doc:"that were measured, by symbol: mg/L of the element"`
	Water  Number            `json:"water_l" unit:"L" doc:"that was then added; 0 if none was"`
	Added  []FeedAdded       `json:"added,omitempty"`
	By     string            `json:"by,omitempty"`
	Note   string            `json:"note,omitempty"`
	EC1    Number            `json:"predicted_ec_ms_cm" unit:"mS/cm" doc:"after what was added"`
	Day    Number            `json:"day" unit:"d" doc:"from the first entry"`
}

// FeedAdded is a product that was added.
type FeedAdded struct {
	Product string `json:"product"`
	Amount  Number `json:"amount"`
	Unit    string `json:"unit" enum:"g|mL"`
}

// A FeedLog is what was read of a tank, and what that tells.
type FeedLog struct {
	Items   []FeedEntry `json:"items"`
	PerDay  Number      `json:"water_used_l_d" unit:"L/d" doc:"null while it is not known"`
	Figures []Figure    `json:"figures"`
	Notes   []string    `json:"notes"`
}

// FeedLooked is a look at a tank, to be kept.
type FeedLooked struct {
	Date   string     `json:"date,omitempty" format:"date" doc:"today if it is not said"`
	New    bool       `json:"new,omitempty" doc:"the tank was made up anew"`
	Volume *float64   `json:"volume_l,omitempty" min:"0" max:"1000000" unit:"L"`
	EC     *float64   `json:"ec_ms_cm,omitempty" min:"0" max:"20" unit:"mS/cm"`
	PH     *float64   `json:"ph,omitempty" min:"0" max:"14"`
	C      *float64   `json:"temperature_c,omitempty" min:"-5" max:"60" unit:"°C"`
	Ions   string     `json:"ions,omitempty" maxlen:"400" doc:"an analysis, in one line" example:"ca 130 mg/L, k 90 mg/L"`
	Water  *float64   `json:"water_l,omitempty" min:"0" max:"1000000" unit:"L" doc:"that was then added"`
	Added  []FeedAdds `json:"added,omitempty" maxlen:"60"`
	By     string     `json:"by,omitempty" maxlen:"80" doc:"the name of the token if it is not said"`
	Note   string     `json:"note,omitempty" maxlen:"300"`
}

// FeedAdds is a product that is added.
type FeedAdds struct {
	Product string  `json:"product" maxlen:"100" doc:"as the cupboard of the feed file calls it"`
	Amount  float64 `json:"amount" above:"0"`
	Unit    string  `json:"unit" enum:"g|mL|kg|L|mg" example:"g"`
}

// FeedSaved says which file was written.
type FeedSaved struct {
	File string `json:"file"`
}

// AboutSaved says which file was written.
type AboutSaved struct {
	File string `json:"file"`
}
