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
	Bench string    `json:"bench"`
	At    time.Time `json:"at"`
	Zone  string    `json:"zone"` // of its days
	Lit   *bool     `json:"lit"`  // whether the lamps burn, as far as a sensor tells; nil: not known

	Sensors  []SensorView    `json:"sensors"`
	Figures  []Derived       `json:"figures"` // what follows from the readings now; only what is known
	Today    Today           `json:"today"`
	Plants   []PlantNow      `json:"plants"`   // in the order of the bench file
	Messages []store.Message `json:"messages"` // open ones, the oldest first
	Limits   []Limit         `json:"limits"`   // what is watched, and where each limit comes from
	Notes    []string        `json:"notes"`
}

// A Derived is a figure that follows from readings, by a key that stays the same.
type Derived struct {
	Key string `json:"key"` // see the constants
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
	Key      string             `json:"key"`
	Quantity measurand.Quantity `json:"quantity"`
	Unit     string             `json:"unit"`           // of the values here, as printed
	Sent     string             `json:"sent,omitempty"` // the unit that it sends in, if another
	Note     string             `json:"note,omitempty"`

	Last  *float64   `json:"last"` // the newest value, true by its calibration; nil: none in 30 h
	Text  string     `json:"text"` // the same, as printed
	At    *time.Time `json:"read_at"`
	Age   string     `json:"age"` // "3 min"; empty without a value
	Spark []Point    `json:"spark"`

	Checks []Check `json:"checks"`
}

// A Point of a spark is a quarter of an hour.
type Point struct {
	At   time.Time `json:"at"` // its begin
	Mean float64   `json:"mean"`
	Min  float64   `json:"min"`
	Max  float64   `json:"max"`
}

// A Check is what is wrong with what a sensor read.
type Check struct {
	Kind  CheckKind `json:"kind"`
	Text  string    `json:"text"` // what is wrong
	Mend  string    `json:"mend"` // what to do
	Since time.Time `json:"since"`
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
	Date  string    `json:"date"` // YYYY-MM-DD
	From  time.Time `json:"from"`
	To    time.Time `json:"to"` // 23 or 25 h later where the clocks change
	Rows  []Row     `json:"rows"`
	Gaps  int       `json:"gaps"`    // in what the light sensors read today
	Cover *float64  `json:"covered"` // share of the day so far that light sensors read; nil without one
}

// A Row sets a sum of the day beside its plan, in one unit.
type Row struct {
	Key   string   `json:"key"`
	Name  string   `json:"name"`
	Unit  string   `json:"unit"`
	SoFar float64  `json:"so_far"`
	End   *float64 `json:"by_end"` // nil: it cannot be told
	Plan  *float64 `json:"plan"`   // nil: nothing is planned
	State string   `json:"state"`  // "as planned", "above", "below"; empty without a plan
}

// A PlantNow is the light of one plant.
type PlantNow struct {
	Name string  `json:"name"`
	X    float64 `json:"x_m"`
	Y    float64 `json:"y_m"`
	PPFD float64 `json:"ppfd_umol_m2_s"` // now
	DLI  float64 `json:"dli_mol_m2_d"`   // so far today
	End  float64 `json:"dli_end_mol_m2_d"`
}

// A Limit is a rule in force.
type Limit struct {
	Key    underlamp.WatchKey `json:"key"`
	Text   string             `json:"text"`   // "16 to 27 °C for 30 min"
	Origin string             `json:"origin"` // "default", "stated"
	Note   string             `json:"note,omitempty"`
	Off    bool               `json:"off"`
}
