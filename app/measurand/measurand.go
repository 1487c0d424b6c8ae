// Package measurand lists what sensors on a bench read: in which units, within what
// bounds a value can be true, how far it can move from one reading to the next, and how
// long it can stay the same. It answers: what does a number mean that a sensor sent?
//
// The bounds are common practice, without source: wide enough for any room in which
// leafy greens live, narrow enough that a broken wire, another unit or a slipped decimal
// stands out.
package measurand

import (
	"fmt"
	"strings"
	"time"

	"underlamp/science/quantity"
)

// A Quantity is what a sensor reads, in the word by which it is registered.
type Quantity string

// What sensors read.
const (
	PPFD                Quantity = "PPFD"
	AirTemperature      Quantity = "air temperature"
	Humidity            Quantity = "humidity"
	CO2                 Quantity = "CO2"
	LeafTemperature     Quantity = "leaf temperature"
	SolutionTemperature Quantity = "solution temperature"
	EC                  Quantity = "EC"
	PH                  Quantity = "pH"
	Power               Quantity = "power"
	Energy              Quantity = "energy" // a counter, which only rises
	Lamp                Quantity = "lamp"   // dimming as a share of full power; 0 is off
	AirSpeed            Quantity = "air speed"
)

// A Measurand is what is known of a quantity.
type Measurand struct {
	Quantity  Quantity
	Kind      quantity.Kind
	Low, High float64       // beyond them a value cannot be true, in the unit of Kind
	Jump      float64       // the most that two readings within ten minutes differ by; 0: it may jump
	Still     time.Duration // longer than this a reading that nobody holds does not stay the same; 0: it may
	Counter   bool          // it only rises, but for a new start from 0
	also      []string      // other words for it
}

var all = []Measurand{
	{Quantity: PPFD, Kind: quantity.PhotonFluxDensity, Low: -20, High: 5000, also: []string{"light", "par", "quantum", "lux", "illuminance"}},
	{Quantity: AirTemperature, Kind: quantity.Temperature, Low: -20, High: 60, Jump: 8, Still: 6 * time.Hour, also: []string{"temperature", "air", "temp"}},
	{Quantity: Humidity, Kind: quantity.Share, Low: 0, High: 1.05, Jump: 0.4, Still: 6 * time.Hour, also: []string{"relative humidity", "rh"}},
	{Quantity: CO2, Kind: quantity.GasShare, Low: 0, High: 20000, Jump: 4000, Still: 6 * time.Hour, also: []string{"carbon dioxide"}},
	{Quantity: LeafTemperature, Kind: quantity.Temperature, Low: -20, High: 60, Jump: 8, Still: 6 * time.Hour, also: []string{"leaf"}},
	{Quantity: SolutionTemperature, Kind: quantity.Temperature, Low: -5, High: 50, Jump: 6, also: []string{"solution", "root temperature", "water temperature", "feed temperature"}},
	{Quantity: EC, Kind: quantity.Conductivity, Low: 0, High: 20, Jump: 2, also: []string{"conductivity"}},
	{Quantity: PH, Kind: quantity.Acidity, Low: 0, High: 14, Jump: 2, also: []string{"acidity"}},
	{Quantity: Power, Kind: quantity.Power, Low: -10, High: 1e6, also: []string{"watts"}},
	{Quantity: Energy, Kind: quantity.Energy, Low: 0, High: 1e9, Counter: true, also: []string{"meter", "electricity"}},
	{Quantity: Lamp, Kind: quantity.Share, Low: 0, High: 1, also: []string{"dimming", "lamp state", "lamps"}},
	{Quantity: AirSpeed, Kind: quantity.AirSpeed, Low: 0, High: 30, also: []string{"wind", "fan"}},
}

// All are the quantities, in the order in which they are shown.
func All() []Measurand { return append([]Measurand(nil), all...) }

// Of is what is known of a quantity; false for one that is none.
func Of(q Quantity) (Measurand, bool) {
	for _, m := range all {
		if m.Quantity == q {
			return m, true
		}
	}
	return Measurand{}, false
}

// Named finds a quantity by a word for it, in capitals or not.
func Named(word string) (Measurand, bool) {
	word = strings.Join(strings.FieldsFunc(strings.ToLower(strings.ReplaceAll(word, "₂", "2")), func(r rune) bool { return r == ' ' || r == '-' || r == '_' }), " ")
	for _, m := range all {
		if word == strings.ToLower(string(m.Quantity)) {
			return m, true
		}
		for _, a := range m.also {
			if word == a {
				return m, true
			}
		}
	}
	return Measurand{}, false
}

// Names lists the quantities in words.
func Names() string {
	var out []string
	for _, m := range all {
		out = append(out, string(m.Quantity))
	}
	return strings.Join(out, ", ")
}

// A UnitError says that a unit is none in which a quantity is read.
type UnitError struct {
	Quantity Quantity
	Unit     string
	Units    []string // that would do
	Lux      bool     // it is lux, and nothing says how much light that is
}

// Error says what would do.
func (e *UnitError) Error() string {
	if e.Lux {
		return "lux tell no PPFD without the spectrum of the lamps: give the lamps of the bench a spectrum, or the sensor a factor (µmol/m²/s for each lx) as its gain and the unit µmol/m²/s"
	}
	return fmt.Sprintf("%q is no unit of %s; it is read in %s", e.Unit, e.Quantity, strings.Join(e.Units, ", "))
}

// Conversion is what makes a value in the unit of the kind of one that a sensor sent.
// Lux are taken for PPFD where perLux, µmol m⁻² s⁻¹ for each lx, is above 0. The error is
// a [*UnitError].
func (m Measurand) Conversion(unit string, perLux float64) (quantity.Conversion, error) {
	if c, ok := m.Kind.Conversion(unit); ok {
		return c, nil
	}
	if m.Quantity == PPFD {
		if c, ok := quantity.Illuminance.Conversion(unit); ok {
			if perLux > 0 {
				return quantity.Conversion{Scale: c.Scale * perLux}, nil
			}
			return quantity.Conversion{}, &UnitError{m.Quantity, unit, m.Kind.Units(), true}
		}
	}
	return quantity.Conversion{}, &UnitError{m.Quantity, unit, m.Units(), false}
}

// Units lists the units that it is read in.
func (m Measurand) Units() []string {
	units := m.Kind.Units()
	if m.Quantity == PPFD {
		units = append(units, quantity.Illuminance.Units()...)
	}
	return units
}

// Text prints a value in the unit of the kind, with its unit.
func (m Measurand) Text(v float64, sys quantity.System) string {
	switch m.Quantity {
	case Humidity, Lamp:
		return quantity.Fixed(100*v, 0) + " %"
	case PH:
		return "pH " + quantity.Fixed(v, 1)
	}
	return m.Kind.Format(v, sys, 3)
}
