package wire

// A LampKind is a kind of lamp of a bench.
type LampKind struct {
	Name     string     `json:"name"`
	Facts    string     `json:"facts" doc:"how many, opening, where they hang"`
	File     string     `json:"photometric_file,omitempty"`
	Spectrum string     `json:"spectrum_file,omitempty"`
	Exponent float64    `json:"cosine_exponent" doc:"of the cosine law that stands for its beam without a file"`
	Figures  []Figure   `json:"figures" doc:"photons, power, efficacy, beam"`
	Colours  []Figure   `json:"colour_figures" doc:"shares by wavelength"`
	Lux      string     `json:"lux,omitempty" doc:"what a lux meter is worth under it"`
	Evidence []Evidence `json:"evidence" doc:"published facts about such light"`
	Doubts   []string   `json:"doubts"`
}

// Evidence is what is published of a light.
type Evidence struct {
	Cue       string   `json:"cue" example:"far-red"`
	Light     string   `json:"light" doc:"what this light has"`
	Published []string `json:"published" doc:"each with species, conditions and source"`
	Sources   []string `json:"sources" doc:"keys of the bibliography, in the order of published"`
	Disagree  bool     `json:"disagree" doc:"results point different ways"`
	Advice    string   `json:"advice,omitempty"`
}

// A Crop is what is published of a head type or species.
type Crop struct {
	Name      string      `json:"name" doc:"of the head type or species"`
	Species   string      `json:"species" doc:"key of the species"`
	HeadType  string      `json:"head_type,omitempty" doc:"of a lettuce; empty for other species"`
	Botanical string      `json:"botanical" doc:"botanical name"`
	Also      []string    `json:"also" doc:"other names"`
	Growth    CropVerdict `json:"growth" doc:"whether mass can be forecast"`
	Burn      CropVerdict `json:"burn" doc:"whether inner burn can be forecast"`
	Facts     []CropFact  `json:"facts" doc:"what is published"`
}

// A CropVerdict says whether data support a forecast.
type CropVerdict struct {
	Supported bool     `json:"supported" doc:"published data support a forecast"`
	Text      string   `json:"text" doc:"why, in words"`
	Sources   []string `json:"sources" doc:"keys of the bibliography"`
}

// A CropFact is a published figure. It has a value only if its status is number.
type CropFact struct {
	Name    string   `json:"name" doc:"of the figure, in words"`
	Status  string   `json:"status" doc:"number: published; reference: the figure of lettuce rests on this crop; unsupported: the text says why"`
	Value   *float64 `json:"value,omitempty" doc:"in the unit beside it; missing unless the status is number"`
	Unit    string   `json:"unit,omitempty" doc:"of the value; × is a factor"`
	Spread  *float64 `json:"spread,omitempty" doc:"standard deviation of the logarithm; of a temperature that in °C"`
	Outlook bool     `json:"enters_outlook" doc:"the outlook is computed with it"`
	Sources []string `json:"sources" doc:"keys of the bibliography"`
	Text    string   `json:"text" doc:"conditions and caveats, or why no figure is supported"`
}
