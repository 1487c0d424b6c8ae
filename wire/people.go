package wire

import "time"

// Settings are what is set for all pages. What is left out follows the bench files and the
// machine.
type Settings struct {
	Units    string            `json:"units,omitempty" enum:"|metric|us" doc:"of lengths and temperatures"`
	Zone     string            `json:"zone,omitempty" maxlen:"60" doc:"of the days" example:"Europe/Berlin"`
	Numbers  string            `json:"numbers,omitempty" maxlen:"12" doc:"marks of numbers, by an example: 12 345,6 or 12,345.6 or 12.345,6; missing: 12 345.6" example:"12 345,6"`
	Currency string            `json:"currency,omitempty" maxlen:"12" example:"EUR"`
	Rates    map[string]Number `json:"rates,omitempty" doc:"how much of the currency one of another is" example:"{\"USD\":0.92}"`
}

// People are those who may see the pages from elsewhere.
type People struct {
	Sessions    []Session    `json:"sessions"`
	Invitations []Invitation `json:"invitations" doc:"codes that nobody has used yet"`
	Plain       []string     `json:"addresses" doc:"of the pages for other machines; empty if they answer on this machine alone"`
	Secure      []string     `json:"encrypted_addresses"`
}

// A Session is a browser that was let in.
type Session struct {
	ID     string    `json:"id"`
	Person string    `json:"person"`
	Role   string    `json:"role" enum:"owner|helper|viewer"`
	Device string    `json:"device"`
	Made   time.Time `json:"made"`
	Seen   time.Time `json:"seen" doc:"when it asked last, to the minute or so"`
}

// An Invitation is a code that lets a browser in, once.
type Invitation struct {
	Code   string    `json:"code,omitempty" doc:"told once, when it is made"`
	Person string    `json:"person"`
	Role   string    `json:"role" enum:"owner|helper|viewer"`
	Until  time.Time `json:"until"`
	Links  []string  `json:"links,omitempty" doc:"addresses that open the page with the code"`
}

// An Invited is who is invited.
type Invited struct {
	Person string `json:"person" maxlen:"40"`
	Role   string `json:"role" enum:"owner|helper|viewer" doc:"owner: everything; helper: rounds, live, what was seen; viewer: reads"`
}

// Removed says how many sessions and codes of a person were ended.
type Removed struct {
	Ended int `json:"ended"`
}

// A Certificate is what phones are asked to trust.
type Certificate struct {
	Name        string    `json:"name"`
	Fingerprint string    `json:"fingerprint" doc:"SHA-256"`
	Ends        time.Time `json:"ends"`
	Addresses   []string  `json:"encrypted_addresses"`
}

// A CycleCard is the record of a crop beside a bench.
type CycleCard struct {
	File     string `json:"file"`
	Name     string `json:"name,omitempty"`
	Problems string `json:"problems,omitempty" doc:"what is wrong with it, with line and column; what can be used is used"`
	Used     bool   `json:"used" doc:"learning reads it"`
}

// A Lesson is what the program learns from the cycles of a bench.
type Lesson struct {
	Bench      string           `json:"bench" doc:"its name"`
	Cycles     []LessonCycle    `json:"cycles"`
	Comparison []LessonCompared `json:"before_and_after" doc:"the outlook of the bench as it is set"`
	Before     LessonForecast   `json:"before"`
	After      LessonForecast   `json:"after"`
	Factors    []LessonFactor   `json:"factors" doc:"traits of the cultivar in that room"`
	Odd        []string         `json:"does_not_fit"`
	Next       []LessonFurther  `json:"further_observations" doc:"what would teach most in the next crop, the best first"`
	RHat       Number           `json:"rhat" doc:"of the draws; up to 1.01 they have settled"`
	BulkESS    Number           `json:"bulk_ess"`
	TailESS    Number           `json:"tail_ess"`
	Good       bool             `json:"good" doc:"the draws have settled, so that a profile can be written"`
	Figures    []Figure         `json:"figures"`
	Notes      []string         `json:"notes"`
	Profile    string           `json:"profile,omitempty" doc:"as a file: beside the bench file, and named under crop, the outlook rests on it"`
	File       string           `json:"profile_file,omitempty" doc:"what it may be called"`
	NoFile     string           `json:"no_profile_because,omitempty"`
}

// A LessonCycle is a crop that was learned from.
type LessonCycle struct {
	Name         string `json:"name"`
	Transplanted string `json:"transplanted"`
	Harvested    string `json:"harvested,omitempty"`
	Plants       int    `json:"plants"`
	Weighings    int    `json:"weighings"`
	Heights      int    `json:"heights"`
	Burns        int    `json:"looks_for_burn"`
	Counts       int    `json:"counts_of_burn"`
}

// A LessonCompared is a figure of the outlook before and after.
type LessonCompared struct {
	Name   string `json:"figure"`
	Before string `json:"before"`
	After  string `json:"after"`
	Change string `json:"change,omitempty"`
}

// A LessonForecast is an outlook in short.
type LessonForecast struct {
	Fresh  Band   `json:"fresh_g" unit:"g"`
	Chance Number `json:"chance_of_burn" min:"0" max:"1"`
	Day    Band   `json:"day_of_first_burn" unit:"d"`
	PerKWh Band   `json:"saleable_g_per_kwh" unit:"g/kWh"`
}

// A LessonFactor is a trait of the cultivar in that room: 1 is the usual.
type LessonFactor struct {
	Key      string   `json:"key"`
	Name     string   `json:"name"`
	Before   []Number `json:"before_q05_q50_q95"`
	After    []Number `json:"after_q05_q50_q95"`
	Narrowed Number   `json:"narrowed" doc:"by which share its spread fell"`
	Learned  bool     `json:"learned"`
	Told     string   `json:"told" doc:"by which data"`
}

// A LessonFurther is an observation of the next crop.
type LessonFurther struct {
	What string `json:"observation"`
	Mass Number `json:"narrows_mass" doc:"by which share"`
	Burn Number `json:"narrows_burn"`
}
