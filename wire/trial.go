package wire

// A TrialCard is a trial in a list.
type TrialCard struct {
	ID       string `json:"id" doc:"the name of its plan file, without the ending" example:"light-levels.trial"`
	Name     string `json:"name"`
	Question string `json:"question,omitempty" doc:"what somebody wants to know"`
	State    string `json:"state,omitempty" doc:"planned: nothing is recorded; running; done: every plant has what decides, or a reason why not"`
	Next     string `json:"next,omitempty" doc:"what is to be done next, in words"`
	Wrong    string `json:"wrong,omitempty" doc:"what is wrong with the plan or its table, so that nothing is answered"`
}

// A Trial is a plan, with how far its recording is.
type Trial struct {
	TrialCard
	Note       string           `json:"note,omitempty"`
	Bench      string           `json:"bench,omitempty" doc:"the bench whose lamps are its units, by the name of its file without the ending; missing if there is none"`
	Response   string           `json:"response" doc:"what decides, chosen before the run: mass, height, burn, severity"`
	Unit       string           `json:"response_unit,omitempty" doc:"of the response; missing for counts and grades"`
	Difference Number           `json:"difference" doc:"the smallest that is worth knowing, in the unit of the response; null if it is not said"`
	Layout     string           `json:"layout" doc:"how treatments were given to units" example:"blocks"`
	Seed       uint64           `json:"seed" doc:"of the draw"`
	Treatments []TrialTreatment `json:"treatments"`
	Factors    []TrialFactor    `json:"factors" doc:"that the treatments combine; empty if they are one list"`
	Cycles     []TrialCycle     `json:"cycles" doc:"when the blocks were or are grown, as far as it is said"`
	Units      []TrialUnit      `json:"units" doc:"in the order of the plan"`
	Records    int              `json:"records" doc:"lines of the table, corrected ones too"`
}

// A TrialTreatment is what is compared.
type TrialTreatment struct {
	Name    string   `json:"name"`
	Control bool     `json:"control,omitempty" doc:"the present setting, against which others are compared"`
	DLI     Number   `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹" doc:"what it shall be; null if it is no level of light"`
	Levels  []string `json:"levels,omitempty" doc:"one of each factor"`
	Note    string   `json:"note,omitempty"`
}

// A TrialFactor is what treatments vary.
type TrialFactor struct {
	Name   string   `json:"name"`
	Unit   string   `json:"unit,omitempty"`
	Levels []string `json:"levels"`
}

// A TrialCycle is when the plants of a block were grown.
type TrialCycle struct {
	Block        string `json:"block,omitempty"`
	Transplanted string `json:"transplanted" doc:"a day, day 0; empty if it is not said"`
	Harvested    string `json:"harvested,omitempty" doc:"a day; missing while it grows"`
}

// A TrialUnit is what a treatment was given to, mostly a lamp in a cycle.
type TrialUnit struct {
	Name      string       `json:"name" example:"C1-L1"`
	Treatment string       `json:"treatment"`
	Block     string       `json:"block,omitempty" doc:"the cycle, or another group that holds every treatment"`
	Part      string       `json:"part,omitempty" doc:"level of the factor within the whole unit of a split plot"`
	Lamp      string       `json:"lamp,omitempty"`
	DLI       Number       `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹" doc:"that its plants really got; null if it was not measured"`
	Seen      int          `json:"plants_seen" doc:"plants with what decides"`
	Absent    int          `json:"plants_absent" doc:"plants with a reason why it is missing"`
	Due       int          `json:"plants_due" doc:"plants that count"`
	Done      bool         `json:"done"`
	Plants    []TrialPlant `json:"plants"`
}

// A TrialPlant is how far the recording of a plant is.
type TrialPlant struct {
	Code   string `json:"code" doc:"within its unit" example:"P1"`
	Seen   bool   `json:"seen,omitempty" doc:"what decides is recorded"`
	Absent bool   `json:"absent,omitempty" doc:"there is a reason why it is missing"`
	Any    bool   `json:"any,omitempty" doc:"anything at all is recorded"`
	Guard  string `json:"guard,omitempty" doc:"why it is grown and does not count"`
}

// A TrialQuestion is what somebody wants to know, and what there is to find it out. Amounts are
// written with their unit, as people do.
type TrialQuestion struct {
	Name       string   `json:"name" maxlen:"80" doc:"of the trial; its file is called after it" example:"More light"`
	Question   string   `json:"question,omitempty" maxlen:"1000" doc:"in your own words"`
	Factor     string   `json:"factor,omitempty" maxlen:"80" doc:"what differs, in words; kept as a note" example:"fan"`
	Levels     []string `json:"levels,omitempty" maxlen:"40" doc:"of light: 15 mol/m²/d, or 250 µmol/m²/s with hours" example:"[\"13 mol/m²/d\",\"17 mol/m²/d\"]"`
	Hours      string   `json:"hours,omitempty" maxlen:"40" doc:"of light a day, for levels as PPFD" example:"16 h"`
	Treatments []string `json:"treatments,omitempty" maxlen:"40" doc:"that are no levels of light"`
	Factors    []string `json:"factors,omitempty" maxlen:"10" doc:"several things in all combinations: PPFD=180,240 µmol/m²/s; in place of levels and treatments"`
	Checks     []string `json:"checks,omitempty" maxlen:"40" doc:"treatments that stand in every cycle while the others stand once"`
	Parts      []string `json:"parts,omitempty" maxlen:"40" doc:"cultivars side by side under every lamp"`
	Control    string   `json:"control,omitempty" maxlen:"80" doc:"the treatment that is the present setting, as it is written in its list"`
	Response   string   `json:"response" enum:"mass|height|burn|severity|onset" doc:"what decides; onset: the day of the first burn"`
	Difference string   `json:"difference" maxlen:"80" doc:"the smallest worth knowing, with its unit: 12 g, 2 cm; of burn 20 % of plants, of its day 5 d" example:"12 g"`
	Expect     string   `json:"expect,omitempty" maxlen:"80" doc:"what is expected, about; of burn the share of plants where there is least" example:"150 g"`
	Days       int      `json:"days,omitempty" min:"1" max:"400" unit:"d" doc:"of a cycle; 35 if it is not said"`
	Rounds     int      `json:"rounds,omitempty" min:"1" max:"400" unit:"d" doc:"between two looks; 3 if it is not said"`
	From       string   `json:"from,omitempty" maxlen:"104" doc:"an earlier trial, by its id, from which the scatter is taken"`
	Bench      string   `json:"bench,omitempty" maxlen:"100" doc:"whose lamps and plants are taken, by its id; missing: lamps and plants count"`
	Lamps      int      `json:"lamps,omitempty" min:"1" max:"500" doc:"without a bench"`
	Plants     int      `json:"plants,omitempty" min:"1" max:"500" doc:"under a lamp, without a bench"`
	Cycles     int      `json:"cycles" min:"1" max:"500" doc:"that will be run: lamps and cycles are the repeats, plants are not" example:"4"`
	Seed       uint64   `json:"seed,omitempty" min:"0" max:"9007199254740991" doc:"of the draw: the same number draws the same layout again; 1 if it is not said"`
}

// TrialProposals are the layouts that fit a question, the most useful first.
type TrialProposals struct {
	Proposals []TrialProposal `json:"proposals"`
	Not       []string        `json:"not" doc:"what does not fit, and why"`
}

// A TrialProposal is a layout with what it could show.
type TrialProposal struct {
	Fingerprint string          `json:"fingerprint" doc:"names this very plan, to take it"`
	Name        string          `json:"name"`
	Layout      string          `json:"layout"`
	Unit        string          `json:"experimental_unit"`
	Repeats     int             `json:"repeats" doc:"units at each level"`
	DF          int             `json:"error_df" doc:"degrees of freedom of the error that treatments are tested against"`
	Power       Number          `json:"power" min:"0" max:"1" doc:"chance to find the smallest difference worth knowing, if it is there; 0.8 is the aim"`
	Why         string          `json:"why" doc:"it stands where it stands"`
	Cannot      []string        `json:"cannot_separate"`
	Figures     []Figure        `json:"figures"`
	Units       []TrialUnitPlan `json:"units" doc:"the layout as it was drawn"`
}

// A TrialUnitPlan is a unit of a layout.
type TrialUnitPlan struct {
	Name      string `json:"name"`
	Treatment string `json:"treatment"`
	Block     string `json:"block,omitempty"`
	Part      string `json:"part,omitempty"`
	Lamp      string `json:"lamp,omitempty"`
	Plants    int    `json:"plants,omitempty"`
}

// TrialTake is a question with the layout that is taken.
type TrialTake struct {
	Question    TrialQuestion `json:"question"`
	Fingerprint string        `json:"fingerprint" maxlen:"64" doc:"of the proposal that is taken"`
}

// A TrialSheet is what stands where, in what light, and in which order it is looked at.
type TrialSheet struct {
	Trial  string            `json:"trial" doc:"its name"`
	Blocks []TrialSheetBlock `json:"blocks"`
	Says   []string          `json:"says" doc:"what of the light is to be known before the run"`
}

// A TrialSheetBlock is one block, mostly a cycle.
type TrialSheetBlock struct {
	Name  string           `json:"name,omitempty"`
	Start string           `json:"start,omitempty" doc:"day of transplanting; missing if it is not known"`
	End   string           `json:"end,omitempty" doc:"day of harvest"`
	Days  int              `json:"days" unit:"d"`
	Units []TrialSheetUnit `json:"units" doc:"in the drawn order in which they are looked at and cut"`
	Says  []string         `json:"says,omitempty"`
}

// A TrialSheetUnit is what one walks up to.
type TrialSheetUnit struct {
	Name      string            `json:"name"`
	Treatment string            `json:"treatment"`
	Lamp      string            `json:"lamp,omitempty"`
	Aim       *Number           `json:"aim_dli_mol_m2_d,omitempty" unit:"mol m⁻² d⁻¹" doc:"what it shall get; missing if it is no level of light, or there is no bench"`
	Got       *Number           `json:"dli_mol_m2_d,omitempty" unit:"mol m⁻² d⁻¹" doc:"mean over the plants that count with the dimmings proposed"`
	Dimming   *Number           `json:"dimming,omitempty" min:"0" max:"1" doc:"proposed, as the dimmer says"`
	Achieved  *bool             `json:"within_5_percent,omitempty"`
	Plants    []TrialSheetPlant `json:"plants"`
}

// A TrialSheetPlant is a plant with its code.
type TrialSheetPlant struct {
	Code  string `json:"code" doc:"of unit and plant, as its label has it"`
	Name  string `json:"name,omitempty" doc:"on the bench"`
	Part  string `json:"part,omitempty"`
	Guard string `json:"guard,omitempty" doc:"why it does not count"`
}

// A TrialJob is something to do on one day.
type TrialJob struct {
	ID    string `json:"id" doc:"the same in the calendar"`
	Block string `json:"block,omitempty"`
	Day   int    `json:"day" unit:"d" doc:"from the first transplanting of the trial"`
	Date  string `json:"date,omitempty" doc:"missing while the plan says no days and start is not given"`
	Of    int    `json:"day_of_cycle" unit:"d"`
	Title string `json:"title"`
	Set   string `json:"set,omitempty" doc:"what is set on this day"`
	What  string `json:"what" doc:"how it is done"`
}

// A TrialRecord is one line of the table of a trial: one thing seen of one plant of a unit.
type TrialRecord struct {
	ID       string `json:"id"`
	Time     string `json:"time,omitempty" doc:"a day, or with the time of day" example:"2026-04-28"`
	Unit     string `json:"unit"`
	Plant    string `json:"plant"`
	What     string `json:"what" doc:"mass, height, leaves, burn, severity, clear, first, width or area"`
	Value    Number `json:"value" doc:"in measure; of burn 0 or 1; null if it is missing or struck"`
	Measure  string `json:"measure,omitempty" doc:"unit of the value; missing for counts and grades"`
	Missing  string `json:"missing,omitempty" doc:"why there is no value"`
	By       string `json:"by,omitempty"`
	With     string `json:"with,omitempty" doc:"the instrument"`
	Note     string `json:"note,omitempty"`
	Corrects string `json:"corrects,omitempty" doc:"id of the line that this one stands for"`
	Struck   bool   `json:"struck,omitempty" doc:"the line under corrects does not count, and nothing stands for it"`
	Counts   bool   `json:"counts"`
}

// TrialSaid is one thing seen of one plant, as a person says it.
type TrialSaid struct {
	Key      string `json:"key,omitempty" pattern:"^[a-z0-9]{6,24}$" doc:"names the saying, so that it is entered once however often it is sent; without, an equal one is entered again"`
	Unit     string `json:"unit,omitempty" maxlen:"80" doc:"may miss in a correction"`
	Plant    string `json:"plant,omitempty" maxlen:"80"`
	What     string `json:"what,omitempty" enum:"mass|height|leaves|burn|severity|clear|first|width|area"`
	Value    string `json:"value,omitempty" maxlen:"80" doc:"such as 141, 141 g, 4.9 oz, yes" example:"141 g"`
	Missing  string `json:"missing,omitempty" maxlen:"1000" doc:"why there is no value, in its place"`
	Time     string `json:"time,omitempty" maxlen:"80" doc:"a day, or with the time of day" example:"2026-04-28"`
	By       string `json:"by,omitempty" maxlen:"80" doc:"who saw it; the name of the token if it is not said"`
	With     string `json:"with,omitempty" maxlen:"80" doc:"the instrument"`
	Note     string `json:"note,omitempty" maxlen:"1000"`
	Corrects string `json:"corrects,omitempty" maxlen:"80" doc:"id of the line that this one stands for"`
	Strike   bool   `json:"strike,omitempty" doc:"the line under corrects shall not count"`
}

// TrialSayings are entered all or none.
type TrialSayings struct {
	Records []TrialSaid `json:"records" minlen:"1" maxlen:"500"`
}

// TrialKept is what became of sayings, in their order.
type TrialKept struct {
	Kept []TrialKeptOne `json:"kept"`
}

// A TrialKeptOne is one of them.
type TrialKeptOne struct {
	Record TrialRecord `json:"record"`
	Again  bool        `json:"again,omitempty" doc:"it stood there already; nothing was written"`
	Doubts []string    `json:"doubts" doc:"what can hardly be meant; it is kept all the same"`
}

// A TrialDay is all that is seen of one plant on one day: what is put is there afterwards,
// however often it is put.
type TrialDay struct {
	Values  map[string]string `json:"values" doc:"by what was seen (mass, height, leaves, burn, severity, clear, first, width, area), each as a person writes it" example:"{\"mass\":\"141 g\",\"burn\":\"no\"}"`
	Missing map[string]string `json:"missing,omitempty" doc:"by what was to be seen: why it is missing"`
	By      string            `json:"by,omitempty" maxlen:"80"`
	With    string            `json:"with,omitempty" maxlen:"80" doc:"the instrument"`
	Note    string            `json:"note,omitempty" maxlen:"1000"`
	Replace bool              `json:"replace,omitempty" doc:"correct what is there and says something else; without, that is refused"`
}

// A TrialImport is one import of a table.
type TrialImport struct {
	Number   int `json:"number"`
	Brought  int `json:"brought" doc:"values"`
	Standing int `json:"standing" doc:"of them that count as they came"`
	Changed  int `json:"changed" doc:"of them that were corrected or struck by hand since"`
}

// A TrialPreview is what an import would keep.
type TrialPreview struct {
	Upload    string              `json:"upload" doc:"names the table that was sent, for two hours or until the server ends"`
	Name      string              `json:"file,omitempty"`
	Columns   []TrialImportColumn `json:"columns"`
	Meanings  []string            `json:"meanings" doc:"that a column can have"`
	Wrong     string              `json:"wrong,omitempty" doc:"why nothing can be kept yet"`
	New       int                 `json:"new" doc:"values that would be kept"`
	Same      int                 `json:"there_already"`
	Empty     int                 `json:"empty" doc:"cells without a value"`
	Ignored   []string            `json:"ignored" doc:"headings of which nothing was said"`
	Doubts    []string            `json:"doubts" doc:"what can hardly be meant of the new values"`
	Records   []TrialRecord       `json:"records" doc:"the first 200 of the new values"`
	NextCount int                 `json:"import" doc:"the number that the import would have"`
}

// A TrialImportColumn is a column of a table.
type TrialImportColumn struct {
	Heading string `json:"heading"`
	Is      string `json:"is,omitempty" doc:"what it is taken for; missing if that is not known"`
	Sample  string `json:"sample,omitempty" doc:"its first value"`
}

// TrialCommit keeps what a preview showed.
type TrialCommit struct {
	Upload  string            `json:"upload" maxlen:"64"`
	Columns map[string]string `json:"columns,omitempty" doc:"what headings are, beyond what is known" example:"{\"Lamp code\":\"unit\",\"Weight\":\"mass\"}"`
	Take    bool              `json:"take,omitempty" doc:"where the table and the trial differ the table counts; else what is there stays"`
}

// TrialImported is what an import did.
type TrialImported struct {
	Import int `json:"import" doc:"its number, by which it can be undone"`
	New    int `json:"new" doc:"values that were kept; 0: all were there already, and nothing was written"`
	Same   int `json:"there_already"`
}

// TrialUndone is what the undoing of an import did.
type TrialUndone struct {
	Import int `json:"import"`
	Struck int `json:"struck" doc:"values that count no more; their lines stay in the table"`
}

// TrialFindings are what a trial tells.
type TrialFindings struct {
	Trial   string         `json:"trial" doc:"its name"`
	Summary []string       `json:"summary" doc:"plain words, the most important first"`
	Units   []FoundUnit    `json:"units" doc:"each unit with its mean"`
	Lines   []FoundLine    `json:"variance" doc:"the table of variance"`
	Parts   []FindingsPart `json:"parts" doc:"one question each"`
	Notes   []string       `json:"notes" doc:"what to know of it, in sentences"`
}

// A FoundUnit is a unit with its mean.
type FoundUnit struct {
	Name      string `json:"unit" doc:"of the unit"`
	Treatment string `json:"treatment" doc:"that it had"`
	Block     string `json:"block,omitempty" doc:"in which it stood"`
	Dose      Number `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹" doc:"what it got, else what was aimed at; null if neither is known"`
	Plants    int    `json:"plants" doc:"how many of its plants count"`
	Mean      Number `json:"mean" doc:"of the response, in its unit; a share for burn, a mean midrank for severity"`
}

// A FoundLine is a line of the table of variance.
type FoundLine struct {
	Name string `json:"line" doc:"of the line of the table of variance"`
	DF   int    `json:"df" doc:"degrees of freedom"`
	SS   Number `json:"ss" doc:"sum of squares"`
	MS   Number `json:"ms" doc:"mean square"`
	F    Number `json:"f" doc:"null where there is no test"`
	P    Number `json:"p" doc:"of the test; null where there is none"`
	Why  string `json:"no_test_because,omitempty" doc:"why there is no test"`
}

// A FindingsPart is one question with its answer.
type FindingsPart struct {
	Title   string         `json:"title" doc:"the question"`
	Says    []string       `json:"says" doc:"the answer, in sentences"`
	Figures []Figure       `json:"figures" doc:"of the answer, with working"`
	Tests   []FindingsTest `json:"tests" doc:"of what was not chosen beforehand"`
}

// A FindingsTest looks at what was not chosen beforehand.
type FindingsTest struct {
	What     string `json:"what" doc:"what is looked at"`
	F        Number `json:"f" doc:"the statistic; null where there is no test"`
	DF1      Number `json:"df1" doc:"degrees of freedom of the numerator"`
	DF2      Number `json:"df2" doc:"degrees of freedom of the denominator"`
	P        Number `json:"p" doc:"before it is adjusted; null where there is no test"`
	Adjusted Number `json:"p_adjusted" doc:"after Holm"`
	Why      string `json:"no_test_because,omitempty" doc:"why there is no test"`
}

// TrialTaking is what taking over the rounds of the bench would do.
type TrialTaking struct {
	Fingerprint string       `json:"fingerprint" doc:"names this very state of rounds and table, to take it over"`
	Moves       []TrialMove  `json:"moves" doc:"lines that it would write"`
	Clashes     []TrialClash `json:"clashes" doc:"of which rounds and table say different things on the same day: to be decided"`
	Known       int          `json:"there_already"`
	Left        []string     `json:"left_out" doc:"and why"`
	Doubts      []string     `json:"doubts"`
}

// A TrialMove is one line that the taking over would write.
type TrialMove struct {
	Record TrialRecord `json:"record"`
	Name   string      `json:"plant_on_the_bench"`
	Was    string      `json:"was,omitempty" doc:"what it corrects or strikes; missing if it is new"`
}

// A TrialClash is a plant of which rounds and table say different things.
type TrialClash struct {
	Key    string      `json:"key" doc:"names it in decisions"`
	Name   string      `json:"plant_on_the_bench"`
	Rounds TrialRecord `json:"rounds"`
	Table  TrialRecord `json:"table"`
}

// TrialTakeOver takes over what was shown.
type TrialTakeOver struct {
	Fingerprint string            `json:"fingerprint" maxlen:"64"`
	Decisions   map[string]string `json:"decisions,omitempty" doc:"by the key of a clash: rounds or table counts; others stay undecided"`
	By          string            `json:"by,omitempty" maxlen:"80" doc:"who takes them over; the name of the token if it is not said"`
}

// TrialTaken is what was written.
type TrialTaken struct {
	Lines int `json:"lines" doc:"that were written"`
	Open  int `json:"undecided" doc:"clashes that nobody has decided"`
}
