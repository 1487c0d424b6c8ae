package underlamp

// A Method is what no figure of a bench needs, and others must know who want to repeat what
// was grown there: in the words of the grower. Empty is not said.
type Method struct {
	Room      string // where the bench stands, what it is, what is beneath the lamps
	AirFlow   string // which way the air goes, where it comes in
	Seedlings string // how the plants were raised until they were set on the bench
	Container string // and its size
	Substrate string // kind, and how much for each plant
	Watering  string // how often, how much, with what
	Solution  string // recipe, water, when it was changed
	PH        string
	Oxygen    string // dissolved, or how the solution is aerated

	Instruments []Instrument
}

// An Instrument is what something was read with.
type Instrument struct {
	Reads      Observed
	Make       string // as the grower typed it
	Calibrated string // YYYY-MM-DD; empty if not said
	Place      string // where it was held or stood
	Often      string // how often it was read
}

// Observed is what an instrument of a [Method] reads.
type Observed string

// What instruments read.
const (
	ObservedLight    Observed = "light"
	ObservedSpectrum Observed = "spectrum"
	ObservedAir      Observed = "air temperature"
	ObservedLeaf     Observed = "leaf temperature"
	ObservedRoot     Observed = "root temperature"
	ObservedHumidity Observed = "humidity"
	ObservedCO2      Observed = "co2"
	ObservedSpeed    Observed = "air speed"
	ObservedEC       Observed = "ec"
	ObservedPH       Observed = "ph"
	ObservedOxygen   Observed = "oxygen"
	ObservedPower    Observed = "electricity"
	ObservedMass     Observed = "mass"
)

// AllObserved lists what instruments read.
func AllObserved() []Observed {
	return []Observed{ObservedLight, ObservedSpectrum, ObservedAir, ObservedLeaf, ObservedRoot, ObservedHumidity, ObservedCO2, ObservedSpeed, ObservedEC, ObservedPH, ObservedOxygen, ObservedPower, ObservedMass}
}

// Reading is the instrument that reads something; nil if none is named.
func (m *Method) Reading(what Observed) *Instrument {
	for i := range m.Instruments {
		if m.Instruments[i].Reads == what {
			return &m.Instruments[i]
		}
	}
	return nil
}
