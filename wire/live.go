package wire

import "time"

// A Board is how a bench stands now.
type Board struct {
	Bench    string        `json:"bench"`
	Name     string        `json:"name"`
	At       time.Time     `json:"at"`
	Zone     string        `json:"zone" doc:"of its days"`
	Lit      *bool         `json:"lit" doc:"whether the lamps burn; null: no sensor tells"`
	Sensors  []SensorNow   `json:"sensors"`
	Figures  []KeyedFigure `json:"figures" doc:"what follows from the readings now"`
	Today    Today         `json:"today"`
	Plants   []PlantNow    `json:"plants"`
	Messages []Message     `json:"messages" doc:"open ones, the oldest first"`
	Limits   []WatchLimit  `json:"limits" doc:"what is watched"`
	Notes    []string      `json:"notes"`
}

// A KeyedFigure is one with a key that stays the same.
type KeyedFigure struct {
	Key    string `json:"key" example:"vpd"`
	Figure Figure `json:"figure"`
}

// A SensorNow is a sensor with what it read last.
type SensorNow struct {
	Key      string        `json:"key" example:"rack/air"`
	Quantity string        `json:"quantity" doc:"what it reads; empty: nobody said"`
	Unit     string        `json:"unit" doc:"of the value here"`
	Last     *float64      `json:"last" doc:"the newest value, true by its calibration; null: none in 30 h"`
	At       *time.Time    `json:"read_at"`
	Note     string        `json:"note,omitempty"`
	Checks   []SensorCheck `json:"checks" doc:"what is wrong with what it read"`
}

// A SensorCheck is what is wrong with what a sensor read.
type SensorCheck struct {
	Kind  string    `json:"kind" enum:"unit|implausible|stuck|silent|jump|drift"`
	Text  string    `json:"text"`
	Mend  string    `json:"mend" doc:"what to do"`
	Since time.Time `json:"since"`
}

// Today is the day so far beside its plan.
type Today struct {
	Date  string     `json:"date" format:"date"`
	From  time.Time  `json:"from"`
	To    time.Time  `json:"to"`
	Rows  []TodayRow `json:"rows"`
	Cover *float64   `json:"covered" doc:"share of the day so far that light sensors read; null without one"`
}

// A TodayRow is a sum of the day.
type TodayRow struct {
	Key   string   `json:"key"`
	Name  string   `json:"name"`
	Unit  string   `json:"unit"`
	SoFar Number   `json:"so_far"`
	End   *float64 `json:"by_end" doc:"null: it cannot be told"`
	Plan  *float64 `json:"plan" doc:"null: nothing is planned"`
	State string   `json:"state,omitempty" doc:"as planned, above, below"`
}

// A PlantNow is the light of a plant by the sensors.
type PlantNow struct {
	Name string `json:"name"`
	X    Number `json:"x_m" unit:"m"`
	Y    Number `json:"y_m" unit:"m"`
	PPFD Number `json:"ppfd_umol_m2_s" unit:"µmol m⁻² s⁻¹" doc:"now"`
	DLI  Number `json:"dli_mol_m2_d" unit:"mol m⁻² d⁻¹" doc:"so far today"`
	End  Number `json:"dli_end_mol_m2_d" unit:"mol m⁻² d⁻¹"`
}

// A WatchLimit is what is watched.
type WatchLimit struct {
	Key    string `json:"key"`
	Text   string `json:"text" example:"16 to 27 °C for 30 min"`
	Origin string `json:"origin"`
	Note   string `json:"note,omitempty"`
	Off    bool   `json:"off"`
}

// A Message is what people are told of a bench.
type Message struct {
	ID           int64      `json:"id"`
	Bench        string     `json:"bench"`
	Rule         string     `json:"rule" doc:"what it is about"`
	Text         string     `json:"text"`
	Mend         string     `json:"mend" doc:"what to do"`
	Urgent       bool       `json:"urgent"`
	Since        time.Time  `json:"since"`
	Opened       time.Time  `json:"opened"`
	Closed       *time.Time `json:"closed" doc:"null while it is so"`
	Acknowledged *time.Time `json:"acknowledged" doc:"null while nobody has"`
	By           string     `json:"by,omitempty" doc:"who knows of it"`
}

// An Acknowledgement says who knows of a message.
type Acknowledgement struct {
	By string `json:"by,omitempty" maxlen:"80"`
}

// A Chart is a sensor over a stretch of time, in pieces of equal width.
type Chart struct {
	Unit     string     `json:"unit"`
	From     time.Time  `json:"from"`
	To       time.Time  `json:"to"`
	Width    int64      `json:"width_s" unit:"s"`
	At       []int64    `json:"at_s" unit:"s" doc:"begins of the pieces, since 1970-01-01 UTC"`
	Mean     []*float64 `json:"mean"`
	Min      []*float64 `json:"min"`
	Max      []*float64 `json:"max"`
	Readings int64      `json:"readings"`
}

// A Sensor is what reads.
type Sensor struct {
	Key          string        `json:"key" doc:"what it is called by" example:"rack/air"`
	Bench        string        `json:"bench,omitempty" doc:"where it is; missing: a whole room"`
	Quantity     string        `json:"quantity" doc:"what it reads; empty: nobody said" example:"air temperature"`
	Unit         string        `json:"unit" doc:"of what it sends" example:"Cel"`
	X            *float64      `json:"x_m,omitempty" unit:"m"`
	Y            *float64      `json:"y_m,omitempty" unit:"m"`
	Height       *float64      `json:"height_m,omitempty" unit:"m"`
	Every        float64       `json:"every_s,omitempty" unit:"s" doc:"usual time between readings"`
	Note         string        `json:"note,omitempty"`
	Calibrations []Calibration `json:"calibrations" doc:"in the order from when they hold"`
}

// A Calibration makes a true value of a read one: gain · (read − offset).
type Calibration struct {
	From   time.Time `json:"from"`
	Gain   float64   `json:"gain"`
	Offset float64   `json:"offset"`
	By     string    `json:"by,omitempty"`
	Note   string    `json:"note,omitempty"`
}

// A SensorChange says what a sensor is; what it does not say stays.
type SensorChange struct {
	Quantity *string  `json:"quantity,omitempty" maxlen:"80" doc:"what it reads" example:"air temperature"`
	Unit     *string  `json:"unit,omitempty" maxlen:"40" doc:"in which unit it sends" example:"Cel"`
	Bench    *string  `json:"bench,omitempty" maxlen:"100" doc:"id of the bench that it stands on; empty: on none any more"`
	X        *float64 `json:"x_m,omitempty" unit:"m" min:"-100" max:"1000"`
	Y        *float64 `json:"y_m,omitempty" unit:"m" min:"-100" max:"1000"`
	Height   *float64 `json:"height_m,omitempty" unit:"m" min:"-100" max:"1000"`
	Every    *float64 `json:"every_s,omitempty" unit:"s" min:"0" max:"31536000"`
	Note     *string  `json:"note,omitempty" maxlen:"1000"`
}

// A NewCalibration is by pairs, by gain and offset, or by a factor.
type NewCalibration struct {
	Pairs  []CalibrationPair `json:"pairs,omitempty" maxlen:"1000" doc:"what it read and what was true"`
	Gain   *float64          `json:"gain,omitempty" doc:"instead: true = gain · (read − offset)"`
	Offset *float64          `json:"offset,omitempty"`
	Factor *float64          `json:"factor,omitempty" doc:"instead: what one unit of the sensor is worth, such as µmol m⁻² s⁻¹ for each lx"`
	From   *time.Time        `json:"from,omitempty" doc:"from when it holds; now if it is not said"`
	By     string            `json:"by,omitempty" maxlen:"200"`
	Note   string            `json:"note,omitempty" maxlen:"1000" doc:"with what"`
}

// A CalibrationPair is a reading beside the truth, in the unit that the sensor sends.
type CalibrationPair struct {
	Read float64 `json:"read"`
	True float64 `json:"true"`
}

// A Reading is what a sensor read.
type Reading struct {
	At   time.Time `json:"at"`
	Sent Number    `json:"sent" doc:"as it was sent, in the unit of the sensor"`
	True Number    `json:"true" doc:"by its calibration, in the same unit"`
}

// Readings are a piece of what a sensor read, in order.
type Readings struct {
	Items []Reading `json:"items"`
	Next  string    `json:"next,omitempty" doc:"address of the next piece; missing on the last"`
}

// CSV is a row for each reading.
func (r Readings) CSV() ([]string, [][]string) {
	rows := [][]string{}
	for _, x := range r.Items {
		rows = append(rows, []string{x.At.Format(time.RFC3339Nano), x.Sent.cell(), x.True.cell()})
	}
	return []string{"at", "sent", "true"}, rows
}
