package cli

import (
	"time"

	"underlamp"
	"underlamp/app/doctor"
	"underlamp/app/kept"
	"underlamp/formats/handwritten"
	"underlamp/science/validation"
	"underlamp/store"
	"underlamp/working"
)

// checkOut is whether a bench file is in order.
type checkOut struct {
	File     string       `json:"file" doc:"that was read"`
	InOrder  bool         `json:"in_order" doc:"a forecast can be made of it"`
	Problems []problemOut `json:"problems" doc:"mistakes and warnings, by their place"`
	Bench    string       `json:"bench,omitempty" doc:"its name"`
	Width    float64      `json:"width_m,omitempty" unit:"m"`
	Depth    float64      `json:"depth_m,omitempty" unit:"m"`
	Height   float64      `json:"height_m,omitempty" unit:"m"`
	Lamps    int          `json:"lamps" doc:"how many there are"`
	Plants   int          `json:"plants" doc:"how many there are"`
	Readings int          `json:"readings" doc:"of a meter, how many there are"`
	Assumed  []assumedOut `json:"assumed" doc:"what was not given"`
}

type problemOut struct {
	Line    int    `json:"line" doc:"from 1"`
	Column  int    `json:"column" doc:"from 1, in characters"`
	Path    string `json:"path,omitempty" doc:"the key it concerns, such as lamps[0].height"`
	Mistake bool   `json:"mistake" doc:"false for a warning"`
	Message string `json:"message" doc:"what is wrong and what to do"`
	Want    string `json:"want,omitempty" doc:"what would be right"`
	Suggest string `json:"suggest,omitempty" doc:"the nearest right word"`
}

type assumedOut struct {
	What  string `json:"what" doc:"is assumed"`
	Value string `json:"value" doc:"with its unit, as printed"`
	Why   string `json:"why" doc:"nothing was given, and where the value comes from"`
}

func checkJSON(file string, b *underlamp.Bench, problems handwritten.Problems) checkOut {
	out := checkOut{File: file, InOrder: b != nil && !problems.HasErrors(), Problems: []problemOut{}, Assumed: []assumedOut{}}
	for _, p := range problems {
		out.Problems = append(out.Problems, problemOut{p.Line, p.Column, p.Path, p.Severity == handwritten.Error, p.Message, p.Want, p.Suggest})
	}
	if !out.InOrder {
		return out
	}
	out.Bench, out.Width, out.Depth, out.Height = b.Name, float64(b.Space.Width), float64(b.Space.Depth), float64(b.Space.Height)
	out.Lamps, out.Plants, out.Readings = len(b.Lamps), len(b.Plants), len(b.Readings)
	for _, r := range defaultsOf(b) {
		out.Assumed = append(out.Assumed, assumedOut{r[0], r[1], r[2]})
	}
	return out
}

// validateOut is every outside check.
type validateOut struct {
	Checks []checkedOut `json:"checks" doc:"every outside check"`
	Held   int          `json:"held" doc:"how many hold"`
}

type checkedOut struct {
	Area     string `json:"area" doc:"of the science"`
	Name     string `json:"name" doc:"of the check"`
	Source   string `json:"source,omitempty" doc:"as cited; missing for common practice"`
	Purpose  string `json:"purpose" doc:"check, calibrate, common practice, or independent computation: what tunes never checks"`
	Unit     string `json:"unit,omitempty" doc:"of the numbers of this check"`
	Kind     string `json:"kind" doc:"value: it lies between low and high; order: one treatment exceeds another"`
	Expected number `json:"expected" doc:"as published; null for an order"`
	Low      number `json:"low" doc:"least that still holds"`
	High     number `json:"high" doc:"most that still holds"`
	Got      number `json:"got" doc:"what came out"`
	Held     bool   `json:"held" doc:"it came out as published"`
	Note     string `json:"note,omitempty" doc:"what to know of it"`
}

func validateJSON(all []validation.Check) validateOut {
	out := validateOut{Checks: []checkedOut{}}
	for _, c := range all {
		source := ""
		if c.Source != "" {
			source = working.Cite(c.Source)
		}
		out.Checks = append(out.Checks, checkedOut{c.Area, c.Name, source, c.Purpose, c.Unit, c.Kind, number(c.Expected), number(c.Low), number(c.High), number(c.Got), c.Held, c.Note})
		if c.Held {
			out.Held++
		}
	}
	return out
}

// doctorOut is what doctor found.
type doctorOut struct {
	Findings []doctorFindingOut `json:"findings" doc:"what was found, file by file"`
}

type doctorFindingOut struct {
	Level string `json:"level" enum:"well|look|wrong" doc:"how bad it is: well, look or wrong"`
	Where string `json:"where" doc:"file or part"`
	What  string `json:"what" doc:"was found"`
	Do    string `json:"do,omitempty" doc:"what to do; empty if nothing"`
}

func doctorJSON(all []doctor.Finding) doctorOut {
	out := doctorOut{Findings: []doctorFindingOut{}}
	for _, f := range all {
		level := map[doctor.Level]string{doctor.Good: "well", doctor.Look: "look", doctor.Wrong: "wrong"}[f.Level]
		out.Findings = append(out.Findings, doctorFindingOut{level, f.Where, f.What, f.Do})
	}
	return out
}

// sizeOut is how much a store keeps.
type sizeOut struct {
	Bytes   int64           `json:"bytes" unit:"B"`
	Sensors []sensorSizeOut `json:"sensors" doc:"readings by sensor"`
	Tables  []tableSizeOut  `json:"tables" doc:"rows by table"`
}

type sensorSizeOut struct {
	Key       string    `json:"key" doc:"empty for a sensor that was not entered"`
	Readings  int64     `json:"readings" doc:"that can still be read"`
	Forgotten int64     `json:"forgotten" doc:"readings that were dropped; their sums by hour stay"`
	Bytes     int64     `json:"bytes" unit:"B"`
	First     time.Time `json:"first" doc:"begin of its first hour"`
	Last      time.Time `json:"last" doc:"begin of its last hour"`
}

type tableSizeOut struct {
	Name string `json:"name" doc:"of the table"`
	Rows int64  `json:"rows" doc:"in it"`
}

// benchesOut is the benches of a store.
type benchesOut struct {
	Benches []benchVersionOut `json:"benches" doc:"the newest version of each"`
}

type benchVersionOut struct {
	Bench  string    `json:"bench" doc:"key of the bench"`
	Number int       `json:"version" doc:"of the version"`
	From   time.Time `json:"holds_from" doc:"since when the bench is so"`
}

// benchHistoryOut is what of a bench was changed when.
type benchHistoryOut struct {
	Steps     []benchStepOut      `json:"steps" doc:"versions as they count now, by the time from which they hold"`
	Corrected []benchCorrectedOut `json:"corrected" doc:"versions that were put right since"`
}

type benchStepOut struct {
	Number   int       `json:"version" doc:"of the version"`
	From     time.Time `json:"holds_from" doc:"since when the bench was so"`
	Recorded time.Time `json:"recorded" doc:"when that was entered"`
	By       string    `json:"by,omitempty" doc:"who entered it"`
	Why      string    `json:"why,omitempty" doc:"as they said"`
	Changes  []string  `json:"changes" doc:"what became otherwise"`
	Fault    string    `json:"fault,omitempty" doc:"why the changes cannot be told"`
}

type benchCorrectedOut struct {
	Number   int       `json:"version" doc:"of the version that counts no more"`
	From     time.Time `json:"for_the_time_from" doc:"begin of the time for which it counted"`
	Recorded time.Time `json:"recorded" doc:"when it was entered"`
	By       string    `json:"by,omitempty" doc:"who entered it"`
	Now      int       `json:"now_counts_version" doc:"version that counts in its place"`
}

func benchHistoryJSON(all []store.Version) benchHistoryOut {
	steps, corrected := kept.Timeline(all)
	out := benchHistoryOut{Steps: []benchStepOut{}, Corrected: []benchCorrectedOut{}}
	at := func(us int64) time.Time { return store.Time(us).UTC() }
	for _, x := range steps {
		out.Steps = append(out.Steps, benchStepOut{x.Number, at(x.From), at(x.Recorded), x.By, x.Why, append([]string{}, x.Changes...), x.Fault})
	}
	for _, c := range corrected {
		out.Corrected = append(out.Corrected, benchCorrectedOut{c.Number, at(c.From), at(c.Recorded), c.Version.By, c.By.Number})
	}
	return out
}
