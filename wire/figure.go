package wire

// A Figure is one number that a person acts on, with how it was reached.
type Figure struct {
	Name    string    `json:"name" example:"mean PPFD at the plants" doc:"of the figure, in words"`
	Value   float64   `json:"value" doc:"in the unit of the figure"`
	Unit    string    `json:"unit,omitempty" doc:"missing for a count" example:"µmol/m²/s"`
	Band    *Interval `json:"band,omitempty" doc:"missing if the figure has no uncertainty of its own"`
	Word    string    `json:"word,omitempty" doc:"what is said instead of the value, for a grade"`
	Working Working   `json:"working" doc:"how it was reached"`
}

// An Interval is one around a figure.
type Interval struct {
	Low   float64 `json:"low" doc:"low end, in the unit of the figure"`
	High  float64 `json:"high" doc:"high end, in the unit of the figure"`
	Level float64 `json:"level" doc:"the probability meant to lie inside, 0.9 for 90 %"`
	Over  string  `json:"over,omitempty" doc:"what it spans, if not a probability"`
}

// A Working tells how a figure was reached.
type Working struct {
	Formula string   `json:"formula" doc:"in symbols"`
	Inputs  []Input  `json:"inputs" doc:"in the order of the formula"`
	Steps   []string `json:"steps,omitempty" doc:"what was done, if a formula does not say it"`
	Sources []string `json:"sources,omitempty" doc:"keys of the bibliography"`
	Notes   []string `json:"notes,omitempty" doc:"what the band leaves out, what was assumed"`
}

// An Input is one value that went into a figure.
type Input struct {
	Name   string `json:"name" doc:"of the value, in words"`
	Value  string `json:"value" doc:"with its unit, as printed"`
	Origin string `json:"origin" doc:"measured, said in the file, default, computed"`
	Note   string `json:"note,omitempty" doc:"what to know of it"`
}
