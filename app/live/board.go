package live

import (
	"time"

	"underlamp"
	"underlamp/app/measurand"
	"underlamp/store"
	"underlamp/working"
)

// A Board is all that is known of a bench at an instant: what the page of the bench
// shows.
type Board struct {
	Bench string    `json:"bench" doc:"key of the bench"` // its key
	Name  string    `json:"name" doc:"as its file calls it"`
	At    time.Time `json:"at" doc:"the instant of all that is told"`
	Zone  string    `json:"zone" doc:"time zone of its days"`
	Lit   *bool     `json:"lit" doc:"the lamps burn, as far as a sensor tells; null: not known"` // whether the lamps burn, as far as a sensor tells; nil: not known

	Sensors  []SensorView    `json:"sensors" doc:"each with what it read"`
	Figures  []Derived       `json:"figures" doc:"what follows from the readings now; only what is known"`
	Today    Today           `json:"today" doc:"the day so far beside its plan"`
	Plants   []PlantNow      `json:"plants" doc:"the light of each, in the order of the bench file"`
	Messages []store.Message `json:"messages" doc:"those that are open, the oldest first"` // open ones, the oldest first
	Limits   []Limit         `json:"limits" doc:"what is watched, and where each limit comes from"`
	Notes    []string        `json:"notes" doc:"what to know of it, in sentences"`
}

// A Derived is a figure that follows from readings, by a key that stays the same.
type Derived struct {
	Key string `json:"key" doc:"which figure it is; it stays the same"` // see the constants
	working.Figure
}

// Keys of derived figures.
const (
	KeyPPFD        = "ppfd"         // mean over the plants, now
	KeyRatio       = "light-ratio"  // measured light over that of the bench file
	KeyDLI         = "dli"          // mean over the plants, so far today
	KeyDLIEnd      = "dli-end"      // by the end of the day
	KeyHours       = "light-hours"  // so far today
	KeyVPD         = "vpd"          // of the air, now
	KeyLeafVPD     = "leaf-vpd"     // of the leaf, now
	KeyDew         = "dew-margin"   // coldest surface known over the dew point, now
	KeyLeaf        = "leaf-air"     // leaf less air, now
	KeyDegreeHours = "degree-hours" // so far today
	KeyEnergy      = "electricity"  // so far today
)

// Figure finds a figure by its key; false if it is not known now.
func (b *Board) Figure(key string) (working.Figure, bool) {
	for _, f := range b.Figures {
		if f.Key == key {
			return f.Figure, true
		}
	}
	return working.Figure{}, false
}

// A SensorView is a sensor with what it read.
type SensorView struct {
	Key      string             `json:"key" doc:"of the sensor"`
	Quantity measurand.Quantity `json:"quantity" doc:"what it reads"`
	Unit     string             `json:"unit" doc:"of the values here"`                          // of the values here, as printed
	Sent     string             `json:"sent,omitempty" doc:"unit that it sends in, if another"` // the unit that it sends in, if another
	Note     string             `json:"note,omitempty" doc:"for people"`

	Last  *float64   `json:"last" doc:"newest value, true by its calibration, in the unit; null: none in 30 h"` // the newest value, true by its calibration; nil: none in 30 h
	Text  string     `json:"text" doc:"the same, as printed"`
	At    *time.Time `json:"read_at" doc:"when it was read; null: none in 30 h"`
	Age   string     `json:"age" doc:"of the newest value, as printed"` // "3 min"; empty without a value
	Spark []Point    `json:"spark" doc:"the last day by quarters of an hour"`

	Checks []Check `json:"checks" doc:"what is wrong with what it read"`
}

// A Point of a spark is a quarter of an hour.
type Point struct {
	At   time.Time `json:"at" doc:"begin of the quarter of an hour"` // its begin
	Mean float64   `json:"mean" doc:"of its readings, in the unit of the sensor"`
	Min  float64   `json:"min" doc:"least of its readings, in the unit of the sensor"`
	Max  float64   `json:"max" doc:"greatest of its readings, in the unit of the sensor"`
}

// A Check is what is wrong with what a sensor read.
type Check struct {
	Kind  CheckKind `json:"kind" doc:"key of what is wrong"`
	Text  string    `json:"text" doc:"what is wrong"`
	Mend  string    `json:"mend" doc:"what to do"`
	Since time.Time `json:"since" doc:"since when it is so"`
}

// A CheckKind says in which way.
type CheckKind string

// The kinds of faults.
const (
	CheckUnit        CheckKind = "unit"        // it cannot be read at all
	CheckImplausible CheckKind = "implausible" // no bench can be so
	CheckStuck       CheckKind = "stuck"
	CheckSilent      CheckKind = "silent"
	CheckJump        CheckKind = "jump"
	CheckDrift       CheckKind = "drift"
)

// Today is the day so far beside what was planned of it.
type Today struct {
	Date  string    `json:"date" doc:"YYYY-MM-DD"`
	From  time.Time `json:"from" doc:"begin of the day"`
	To    time.Time `json:"to" doc:"end of the day; 23 or 25 h later where clocks change"` // 23 or 25 h later where the clocks change
	Rows  []Row     `json:"rows" doc:"sums of the day beside their plan"`
	Gaps  int       `json:"gaps" doc:"in what the light sensors read today"`
	Cover *float64  `json:"covered" doc:"share of the day so far that light sensors read, 0 to 1; null without one"` // share of the day so far that light sensors read; nil without one
}

// A Row sets a sum of the day beside its plan, in one unit.
type Row struct {
	Key   string   `json:"key" doc:"which sum it is; it stays the same"`
	Name  string   `json:"name" doc:"of the sum, in words"`
	Unit  string   `json:"unit" doc:"of its values"`
	SoFar float64  `json:"so_far" doc:"sum of the day so far"`
	End   *float64 `json:"by_end" doc:"what it comes to by the end of the day; null: it cannot be told"`
	Plan  *float64 `json:"plan" doc:"what is planned for the day; null: nothing"`        // nil: nothing is planned
	State string   `json:"state" doc:"as planned, above or below; empty without a plan"` // "as planned", "above", "below"; empty without a plan
}

// A PlantNow is the light of one plant.
type PlantNow struct {
	Name string  `json:"name" doc:"of the plant"`
	X    float64 `json:"x_m" doc:"from the left (m)"`
	Y    float64 `json:"y_m" doc:"from the front (m)"`
	PPFD float64 `json:"ppfd_umol_m2_s" doc:"now (µmol m⁻² s⁻¹)"`
	DLI  float64 `json:"dli_mol_m2_d" doc:"so far today (mol m⁻² d⁻¹)"`
	End  float64 `json:"dli_end_mol_m2_d" doc:"by the end of the day (mol m⁻² d⁻¹)"`
}

// A Limit is a rule in force.
type Limit struct {
	Key    underlamp.WatchKey `json:"key" doc:"of the rule"`
	Text   string             `json:"text" doc:"the limit in words, with units"`           // "16 to 27 °C for 30 min"
	Origin string             `json:"origin" doc:"where it comes from: default or stated"` // "default", "stated"
	Note   string             `json:"note,omitempty" doc:"what to know of it"`
	Off    bool               `json:"off" doc:"it is not watched"`
}
