package wire

// Doubts say which uncertain input makes how much of the spread of an outlook.
type Doubts struct {
	Bench   string  `json:"bench" doc:"its name"`
	Draws   int     `json:"draws" doc:"of what is uncertain"`
	Mass    Band    `json:"fresh_g" unit:"g" doc:"fresh mass of a head at harvest"`
	Alone   Band    `json:"fresh_g_with_the_description_taken_at_its_word" unit:"g" doc:"the same, if nothing that the bench file says were uncertain"`
	Burn    Number  `json:"chance_of_burn_of_the_mean_plant" min:"0" max:"1" doc:"chance of inner tipburn"`
	Matters []Doubt `json:"doubts" doc:"the inputs, the one that matters most first"`
}

// A Doubt is one uncertain input.
type Doubt struct {
	Name     string     `json:"name" doc:"of the input, in words"`
	Known    string     `json:"known" doc:"how well it is known, and from where"`
	Act      string     `json:"what_would_narrow_it" doc:"what to do so that it is known better"`
	Mass     DoubtShare `json:"of_mass" doc:"its share of the spread of fresh mass"`
	Burn     DoubtShare `json:"of_burn" doc:"its share of the spread of burn"`
	MassGain *Number    `json:"mass_gain,omitempty" doc:"by how much the band of mass would narrow if it were known, as a share"`
	BurnGain *Number    `json:"burn_gain,omitempty" doc:"the same of burn"`
}

// A DoubtShare is a share of a spread; it has no fields where it is not known.
type DoubtShare struct {
	Share *Number `json:"share,omitempty" doc:"0 to 1; little below 0 is noise"`
	SE    *Number `json:"standard_error,omitempty" doc:"of the share"`
}
